"""The rivals of the accuracy bench: right on what they are made for, and where they end."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import trackpy
from benchmarks.rivals import RIVALS
from benchmarks.rivals.stream import Stream
from streams import stream

from viscount.motion.geometry import Geometry
from viscount.motion.speed import MotionPrior
from viscount.motion.tracker import Tracker
from viscount.values import Blob, Falls, Sighting

every_rival = pytest.mark.parametrize("rival", RIVALS)


def told(made, fps: float) -> Stream:
    return Stream(
        sightings=made.sightings,
        falls=Falls.DOWN,
        line_px=made.line,
        picture=made.view,
        fps=fps,
    )


def easy(**changes):
    """Twenty parts that fall 9 px a frame and lie 60 px apart."""
    release = 0.1 + 0.03 * np.arange(20)
    return stream(release, 1000.0, acceleration=6000.0, lip=-30, fps=240, size=(8, 12), **changes)


def upside_down(sighting: Sighting, height: int) -> Sighting:
    def turned(blob: Blob) -> Blob:
        x0, y0, x1, y1 = blob.box
        return replace(blob, y_px=height - 1 - blob.y_px, box=(x0, height - y1, x1, height - y0))

    return replace(sighting, blobs=tuple(turned(blob) for blob in sighting.blobs))


@every_rival
@pytest.mark.parametrize("changes", [{}, {"specks": 2}, {"drop": (60, 90)}, {"miss": 0.01}])
def test_an_easy_stream_is_counted(rival: str, changes: dict):
    assert RIVALS[rival](told(easy(**changes), 240)) == 20


@every_rival
def test_a_fall_upwards_is_the_same(rival: str):
    made = easy()
    turned = Stream(
        sightings=[upside_down(s, made.view[0]) for s in made.sightings],
        falls=Falls.UP,
        line_px=made.view[0] - 1 - made.line,
        picture=made.view,
        fps=240,
    )
    assert RIVALS[rival](turned) == 20


@every_rival
def test_parts_that_come_one_at_a_time_are_counted(rival: str):
    """No two are in view at once, and each moves a third of the view in a frame."""
    made = stream(0.1 + 0.1 * np.arange(10), 9000.0, lip=-30, fps=60, size=(8, 12))
    assert RIVALS[rival](told(made, 60)) == 10


@every_rival
def test_nothing_seen_is_nothing_counted(rival: str):
    made = stream([10.0], 1000.0, fps=60, start_s=0.0, end_s=0.5)
    assert RIVALS[rival](told(made, 60)) == 0


def falling_points(fps: float) -> pd.DataFrame:
    """Six points that start to fall from rest 20 ms apart, 1 px to the mm, over 120 mm."""
    rows = []
    for frame in range(int(0.4 * fps)):
        age = frame / fps - 0.02 * np.arange(6)
        down = 0.5 * 9806.65 * age**2
        rows += [(frame, y, 10.0) for y, a in zip(down, age, strict=True) if a >= 0 and y <= 120]
    return pd.DataFrame(rows, columns=["frame", "y", "x"])


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::FutureWarning")
@pytest.mark.parametrize(("fps", "reach", "tracks"), [(1000, 2, 6), (500, 4, 6), (187, 9, 6)])
def test_plain_linking_needs_a_fast_camera(fps: float, reach: int, tracks: int):
    # Without a motion model: whole at 187 frames a second, in pieces at 90.
    trackpy.quiet()
    assert trackpy.link(falling_points(fps), reach)["particle"].nunique() == tracks
    assert trackpy.link(falling_points(90), 17)["particle"].nunique() > 6


def test_prediction_gets_further_and_ours_all_the_way():
    """Parts that move 0.4, then 1.5 of their spacing a frame; irregular, so that one speed fits."""
    rng = np.random.default_rng(4)
    for ratio, exact in ((0.4, {"centroid", "trackpy", "kalman"}), (1.5, set())):
        spacing = 1500.0 / 60 / ratio
        release = 0.1 + spacing / 1500.0 * np.cumsum(rng.uniform(0.7, 1.3, 30))
        made = stream(release, 1500.0, lip=-20, fps=60, size=(6, 8), view=(480, 160), seed=4)
        found = {name: rival(told(made, 60)) for name, rival in RIVALS.items()}
        assert {name for name, count in found.items() if count == 30} >= exact
        assert ratio < 1 or found["centroid"] < 15, found
        geometry = Geometry(
            falls=Falls.DOWN, line_px=240, view=(0, 0, 160, 480), picture=(480, 160)
        )
        tracker = Tracker(geometry, MotionPrior(acceleration_px_s2=0.0))
        ours = [p for s in made.sightings for p in tracker.feed(s)] + tracker.finish()
        assert sum(p.parts for p in ours) == 30


def test_a_track_crosses_from_above_or_from_where_parts_appear():
    made = told(stream([0.1], 1000.0, fps=60), 60)
    assert made.entry_move == pytest.approx(1000 / 60, abs=1)
    assert made.crossed([100.0, 200.0, 300.0])
    assert not made.crossed([300.0, 320.0])  # never above the line
    assert not made.crossed([250.0])  # seen once
    assert not made.crossed([100.0, 200.0])  # never below it, and not about to leave
    assert replace(made, line_px=470.0).crossed([400.0, 440.0])  # leaves with its next move
