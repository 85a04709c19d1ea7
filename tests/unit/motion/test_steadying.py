"""The displacement of whole pictures, told from the parts' own scatter."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from streams import column, stream

from viscount.motion.detections import Detections, detections
from viscount.motion.geometry import Geometry
from viscount.motion.learning import good
from viscount.motion.linking import Linker
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.steadying import scatter_of, without_shake
from viscount.motion.track import Track
from viscount.motion.tracker import Tracker
from viscount.values import Falls, Level

G = 9806.65 * 4.0
SPEED = 2000.0
MODEL = SpeedModel(
    t_s=np.array([0.0]),
    speed=np.array([SPEED]),
    spread=0.1,
    acceleration=0.0,
    sigma_acceleration=100.0,
    interval_s=1 / 120,
    area_px=600.0,
)


def effects(shake: float, own: float, frames: int, each: int, seed: int):
    """Strays of `each` parts in so many frames, with a detector's noise of 0.1 px."""
    rng = np.random.default_rng(seed)
    frame = np.repeat(np.arange(frames), each)
    away = rng.normal(0, shake, frames)[frame] + rng.normal(0, np.hypot(own, 0.1), frame.size)
    return frame, away, np.full(frame.size, 0.01)


@given(
    shake=st.floats(0.3, 3.0),
    own=st.floats(0.0, 2.0),
    each=st.integers(2, 6),
    seed=st.integers(0, 2**31),
)
def test_what_frames_share_is_told_from_what_parts_have_of_their_own(shake, own, each, seed):
    frame, away, var = effects(shake, own, 400, each, seed)
    found = scatter_of(frame, away, var)
    # A covariance is told from chance once it exceeds three times the other's variance over the
    # root of the number of pairs; from there on it is known to a third, its root to a sixth.
    pairs = 400 * each * (each - 1) / 2
    assume(shake**2 > 6 * (shake**2 + own**2 + 0.01) / np.sqrt(pairs))
    assert found.shake == pytest.approx(shake, rel=0.4)
    assert np.hypot(found.shake, found.own) == pytest.approx(np.hypot(shake, own), rel=0.25)


def test_parts_that_tumble_do_not_shake_the_picture():
    found = scatter_of(*effects(0.0, 1.5, 400, 4, 1))
    assert found.shake < 0.25
    assert found.own == pytest.approx(1.5, rel=0.1)


def test_single_parts_tell_of_no_shake():
    found = scatter_of(*effects(2.0, 0.0, 400, 1, 2))
    assert found.shake == 0.0
    assert found.own == pytest.approx(2.0, rel=0.15)


def followed(
    shake: float, *, interval_s: float = 0.024
) -> tuple[list[Detections], list[Track], SpeedModel]:
    """An even stream, five parts in view, followed with a shake foreseen."""
    made = stream(
        np.arange(40) * interval_s, SPEED, lip=-30, view=(240, 120), line=120, shake=shake, seed=3
    )
    height, width = made.view
    geometry = Geometry(
        falls=Falls.DOWN, line_px=made.line, view=(0, 0, width, height), picture=made.view
    )
    frames = [detections(s, geometry, 0) for s in made.sightings]
    model = replace(MODEL, sigma_shape_px=shake, sigma_side_px=shake)
    linker = Linker(geometry, model)
    tracks = [t for frame in frames for t in linker.link(frame)] + linker.finish()
    return frames, good(tracks, model), model


def test_a_shaken_picture_is_put_back():
    frames, tracks, foreseen = followed(2.0)
    steady, model = without_shake(frames, tracks, foreseen)
    busy = [k for k, frame in enumerate(frames) if len(frame) >= 3]
    # All parts stand in one lane at x = 60: what is off across is the shake.
    before = np.concatenate([frames[k].x - 60.0 for k in busy])
    after = np.concatenate([steady[k].x - 60.0 for k in busy])
    assert np.std(before) > 1.7
    # What all have in common for the time that a part is in view, some seven frames, nobody sees.
    assert np.std(after) < 0.5 * np.std(before)
    steps = np.diff([steady[k].x.mean() for k in busy])
    assert np.std(steps) < 0.2 * np.std(np.diff([frames[k].x.mean() for k in busy]))
    assert model.sigma_side_px < 0.5
    assert model.sigma_shake_px == pytest.approx(2.0, rel=0.2)


def test_no_part_is_moved_by_what_it_says_itself():
    frames, tracks, foreseen = followed(2.0)
    steady, _ = without_shake(frames, tracks, foreseen)
    sight = tracks[20].whole[2]
    tracks[20].sights = [
        replace(one, x=one.x + 3.0) if one is sight else one for one in tracks[20].sights
    ]
    again, _ = without_shake(frames, tracks, foreseen)
    place = next(k for k, frame in enumerate(frames) if frame.index == sight.frame)
    own = abs(again[place].x[sight.blob] - steady[place].x[sight.blob])
    others = np.delete(np.abs(again[place].x - steady[place].x), sight.blob)
    assert own < 0.1
    assert others.min() > 0.2


def test_a_part_alone_stays_where_it_is_and_is_less_sure():
    frames, tracks, foreseen = followed(2.0)
    steady, _ = without_shake(frames, tracks, foreseen)
    alone = [k for k, frame in enumerate(frames) if len(frame) == 1 and not frame.cut[0]]
    assert alone
    for k in alone:
        assert steady[k].y[0] == frames[k].y[0]
        assert steady[k].var_y[0] > frames[k].var_y[0] + 1.0


def test_a_steady_picture_is_left_alone():
    frames, tracks, foreseen = followed(0.0)
    steady, model = without_shake(frames, tracks, foreseen)
    assert steady is frames
    assert model.sigma_side_px < 0.1


@pytest.mark.parametrize("shake", [1.0, 2.0])
def test_a_column_is_counted_through_a_shaken_camera(shake: float):
    """Sixty parts as near as 4.4 ms, with nothing given but the line."""
    release, pitches_s = column(60, 0.53, seed=1)
    made = stream(
        release,
        pitches_s * 22.0,
        acceleration=G,
        lip=-120,
        size=(28, 20),
        shake=shake,
        seed=2,
    )
    height, width = made.view
    geometry = Geometry(
        falls=Falls.DOWN, line_px=made.line, view=(0, 0, width, height), picture=made.view
    )
    tracker = Tracker(geometry, MotionPrior())
    found = [p for s in made.sightings for p in tracker.feed(s)] + tracker.finish()
    assert sum(p.parts for p in found) == 60
    assert not any(n.level is not Level.INFO for n in tracker.notices)
    times = np.sort([p.t_ns for p in found]) * 1e-9
    pulls = (times - made.crossings_s) / np.array(
        [p.sigma_ns * 1e-9 for p in sorted(found, key=lambda p: p.t_ns)]
    )
    assert 0.6 < np.std(pulls) < 1.6


def test_parts_that_sway_each_on_its_own_are_foreseen():
    """Two pixels to the side, of which the detector knows nothing, are no surprise in the end."""
    made = stream(np.arange(40) * 0.03, SPEED, lip=-30, view=(240, 120), line=120)
    rng = np.random.default_rng(4)
    swaying = [
        replace(s, blobs=tuple(replace(b, x_px=b.x_px + rng.normal(0.0, 2.0)) for b in s.blobs))
        for s in made.sightings
    ]
    height, width = made.view
    geometry = Geometry(
        falls=Falls.DOWN, line_px=made.line, view=(0, 0, width, height), picture=made.view
    )
    tracker = Tracker(geometry, MotionPrior())
    found = [p for s in swaying for p in tracker.feed(s)] + tracker.finish()
    assert sum(p.parts for p in found) == 40
    assert not any(n.level is not Level.INFO for n in tracker.notices)


def test_a_bend_that_all_paths_share_is_no_shake():
    """In an even stream the parts of each frame stand at the same places, frame after frame."""
    frames, tracks, foreseen = followed(0.0, interval_s=5 / 120)
    steady, left = without_shake(frames, tracks, replace(foreseen, acceleration=8000.0))
    assert steady is frames
    assert left.sigma_shake_px == 0.0
