"""Parts that stop on their way: on the blade, on what lies there, or because they stick."""

import math
from dataclasses import replace

import numpy as np
import pytest
from steady_tracks import track
from streams import blob

from viscount.codes import Code
from viscount.motion.detections import Detections, detections
from viscount.motion.geometry import Geometry
from viscount.motion.prediction import predict
from viscount.motion.speed import MotionPrior
from viscount.motion.stopping import STOP, stop_costs
from viscount.motion.tracker import Tracker
from viscount.values import Blob, Direction, Falls, Passage, Sighting

VIEW = (480, 120)
LINE = 240.0
STEP = 25.0
FPS = 100.0
SIZE = (16.0, 20.0)
BELT = MotionPrior(acceleration_px_s2=0.0, speed_px_s=STEP * FPS)
"""A steady belt keeps the sums plain; parts fall or slide in the same way."""


def way(
    begin: float, *, stop: float = np.inf, frames: int = 60, for_frames: int = 60
) -> np.ndarray:
    """Places of a part that comes in at frame `begin`; at `stop` it waits for some frames."""
    k = np.arange(frames) - begin
    free = STEP * k - 10.0
    late = free - STEP * for_frames
    held = np.where(free > stop, np.maximum(stop, late), free)
    return np.where(k >= 0, held, np.nan)


def followed(
    *ways: np.ndarray, together: bool = True, prior: MotionPrior = BELT
) -> tuple[list[Passage], set[Code]]:
    """Count parts on these ways; those that touch are one region where they come `together`."""
    geometry = Geometry(falls=Falls.DOWN, line_px=LINE, view=(0, 0, VIEW[1], VIEW[0]), picture=VIEW)
    tracker = Tracker(geometry, prior)
    passages = []
    for frame in range(ways[0].size):
        centres = sorted(float(one[frame]) for one in ways if np.isfinite(one[frame]))
        seen = [one for one in merged(centres, together) if one is not None]
        t_ns = round(frame * 1e9 / FPS)
        passages += tracker.feed(Sighting(index=frame, t_ns=t_ns, blobs=tuple(seen)))
    passages += tracker.finish()
    return passages, {notice.code for notice in tracker.notices}


def merged(centres: list[float], together: bool) -> list[Blob | None]:
    """The regions of parts with these centres along the fall."""
    groups: list[list[float]] = []
    for y in centres:
        if together and groups and y - groups[-1][-1] <= SIZE[1] + 1.0:
            groups[-1].append(y)
        else:
            groups.append([y])
    return [
        blob(60.0, (one[0] + one[-1]) / 2, SIZE[0], one[-1] - one[0] + SIZE[1], VIEW)
        for one in groups
    ]


def counted(passages: list[Passage]) -> int:
    return sum(p.parts for p in passages if p.direction is Direction.WITH)


OTHERS = [way(begin) for begin in (2, 8, 14, 20)]


def test_a_part_that_sticks_and_goes_on_is_one():
    passages, _ = followed(*OTHERS, way(26, stop=140.0, for_frames=12))
    assert counted(passages) == 5
    assert max(p.doubt for p in passages) < 0.02


@pytest.mark.parametrize(("stop", "crossed"), [(200.0, 4), (290.0, 5)])
def test_what_stops_for_good_has_crossed_where_it_lies_beyond_the_line(stop: float, crossed: int):
    passages, said = followed(*OTHERS, way(26, stop=stop))
    assert counted(passages) == crossed
    assert Code.PART_STUCK not in said
    assert max(p.doubt for p in passages) < 0.02


@pytest.mark.parametrize(("lies", "crossed"), [(250.0, 5), (290.0, 6)])
def test_what_comes_to_lie_on_another_is_told_by_its_upstream_end(lies: float, crossed: int):
    """A part lies beyond the line, and the next one on it: above the line, or beyond it too."""
    below, above = way(26, stop=lies), way(32.5, stop=lies - SIZE[1])
    passages, _ = followed(*OTHERS, below, above)
    assert counted(passages) == crossed
    assert max(p.doubt for p in passages) < 0.05


def test_what_is_slow_and_lost_in_plain_view_is_doubted_and_does_not_rest():
    """At one px a frame each part seems to be where it was."""
    ends = []
    for lost_at in (math.inf, 200.0):
        slow = np.where(np.arange(620) < 4, np.nan, np.arange(620) - 4.0)
        slow[slow > lost_at] = np.nan
        passages, _ = followed(slow, prior=replace(BELT, speed_px_s=FPS))
        ends.append((counted(passages), max(p.doubt for p in passages) > 0.1))
    assert ends == [(1, False), (0, True)]


def test_one_torn_picture_stops_nobody():
    """It shows the part where the frame before did."""
    torn = way(26)
    torn[32] = torn[31]
    passages, said = followed(*OTHERS, torn)
    assert counted(passages) == 5
    assert Code.PART_STUCK not in said
    last = max(passages, key=lambda p: p.t_ns)
    assert last.first_frame <= 27
    assert last.t_ns == pytest.approx((26 + (LINE + 10.0) / STEP) / FPS * 1e9, abs=2e5)


def test_in_a_stream_that_seems_to_stand_each_part_still_moves_on():
    """As far apart as they move from frame to frame: each is where the one before it was."""
    passages, said = followed(*[way(begin) for begin in range(3, 20)], together=False)
    assert counted(passages) == 17
    assert Code.PART_STUCK not in said


def stopping(*before: float) -> list[float]:
    """What it costs that a part which falls 25 px a frame has stopped 10 px after it was seen,
    where regions were `before`, px from the line; the line is in the middle."""
    geometry = Geometry(falls=Falls.DOWN, line_px=LINE, view=(0, 0, VIEW[1], VIEW[0]), picture=VIEW)

    def frame(index: int, *places: float) -> Detections:
        seen = tuple(blob(50.0, LINE + y, *SIZE, VIEW) for y in places)
        t_ns = round(1e9 * index / 120)
        return detections(Sighting(index=index, t_ns=t_ns, blobs=seen), geometry, 0)

    one = track(SIZE[1], SIZE[0] * SIZE[1])
    seen_last = one.sights[-1]
    one.along = replace(one.along, place=seen_last.y)
    one.across = replace(one.across, place=seen_last.x, speed=0.0)
    one.t_s = seen_last.t_s
    last, now = frame(5, *before), frame(6, seen_last.y + 10.0)
    ahead = predict([one], now, geometry)
    yes = np.ones((1, 1), dtype=bool)
    return stop_costs([one], ahead, now, last, SIZE[0] * SIZE[1], yes, yes[0]).ravel().tolist()


def test_a_new_place_is_a_sign_of_stopping() -> None:
    assert stopping(50.0) == [STOP]


def test_but_not_where_something_stood_before() -> None:
    assert stopping(50.0, 60.0) == [np.inf]
