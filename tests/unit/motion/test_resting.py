"""What stands still among what moves."""

from streams import blob

from viscount.motion.detections import Detections, detections
from viscount.motion.geometry import Geometry
from viscount.motion.resting import AWAY_S, REST_S, STILL_FRAMES, STILL_PX, Resting, moving
from viscount.values import Falls, Sighting

VIEW = (480, 160)
GEOMETRY = Geometry(falls=Falls.DOWN, line_px=240.0, view=(0, 0, 160, 480), picture=VIEW)


def frame(index: int, *places: tuple[float, float]) -> Detections:
    blobs = tuple(blob(x, y, 12, 20, VIEW) for x, y in places)
    return detections(Sighting(index=index, t_ns=index * 8_333_333, blobs=blobs), GEOMETRY, 0)


def test_a_part_that_sticks_is_left_out_and_one_that_passes_it_stays():
    stuck, step = (40.0, 100.0), 40.0
    frames = [frame(k, stuck, (100.0, 30.0 + step * k)) for k in range(10)]
    frames += [frame(10 + k, stuck) for k in range(STILL_FRAMES)]
    left = moving(frames)
    assert [len(one) for one in left] == [1] * 10 + [0] * STILL_FRAMES
    assert all(one.x[0] == 100.0 for one in left[:10])


def test_what_stands_for_a_few_frames_only_stays():
    frames = [frame(k, (40.0, 100.0)) for k in range(STILL_FRAMES - 1)]
    assert [len(one) for one in moving(frames)] == [1] * (STILL_FRAMES - 1)


def test_an_empty_frame_ends_a_stay():
    short = STILL_FRAMES - 1
    frames = [frame(k, (40.0, 100.0)) for k in range(short)]
    frames += [frame(short)] + [frame(short + 1 + k, (40.0, 100.0)) for k in range(short)]
    assert sum(len(one) for one in moving(frames)) == 2 * short


def marked(*frames: Detections) -> list[list[bool]]:
    resting = Resting()
    return [resting.mark(one).tolist() for one in frames]


RESTS = int(REST_S * 120) + 2
"""Frames after which what has kept its place is at rest."""
AWAY = int(AWAY_S * 120) + 2
"""Frames after which a place is forgotten."""


def test_what_keeps_its_place_is_at_rest_and_what_passes_it_is_not():
    frames = [frame(k, (40.0, 100.0), (100.0, 20.0 + 20.0 * (k % 23))) for k in range(RESTS)]
    found = marked(*frames)
    assert not any(map(any, found[: RESTS - 4]))
    lies = frames[-1].x == 40.0
    assert found[-1] == lies.tolist()


def test_what_creeps_away_from_its_place_is_not_at_rest():
    step = 2.5 * STILL_PX / RESTS
    frames = [frame(k, (40.0, 100.0 + step * k), (90.0 + step * k, 200.0)) for k in range(RESTS)]
    assert not any(map(any, marked(*frames)))


def test_a_place_that_was_empty_for_long_starts_anew():
    still = [frame(k, (40.0, 100.0)) for k in range(RESTS)]
    soon, late = (frame(RESTS + k, (40.0, 100.0)) for k in (AWAY // 2, AWAY))
    assert marked(*still, soon)[-1] == [True]
    assert marked(*still, late)[-1] == [False]
