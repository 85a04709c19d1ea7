"""Which small regions can be followed."""

import numpy as np

from viscount.checking.followed import followed


def moving(
    frames: np.ndarray, places: np.ndarray, bend_px: tuple[float, float] = (0.0, 0.0)
) -> list[int]:
    """Return the frames in which something is seen to move."""
    found = followed(frames.astype(np.int64), places, reach_px=16.0, bend_px=bend_px)
    return frames[found].tolist()


def test_what_sinks_evenly_is_followed_from_the_fifth_frame_on():
    frames = np.arange(10)
    places = np.column_stack([50 + 0.2 * frames, 0.6 * frames])
    assert moving(frames, places) == [4, 5, 6, 7, 8, 9]


def test_what_falls_needs_its_acceleration():
    frames = np.arange(8)
    places = np.column_stack([np.full(8, 50.0), 2.0 * frames + 1.5 * frames**2])
    fast = np.arange(4)
    assert moving(frames[fast], places[fast]) == []
    assert moving(frames, places) == []
    assert moving(frames, places, bend_px=(0.0, 3.0))[0] == 4


def test_what_stands_is_not_followed():
    frames = np.arange(20)
    jitter = np.random.default_rng(3).normal(0, 0.1, (20, 2))
    assert moving(frames, np.array([50.0, 70.0]) + jitter) == []


def test_what_flashes_up_is_not_followed():
    """Ten places a frame, at random in 160 x 400 px."""
    frames = np.repeat(np.arange(60), 10)
    places = np.random.default_rng(3).uniform(0, [160, 400], (600, 2))
    assert moving(frames, places) == []


def test_a_gap_begins_anew():
    frames = np.array([0, 1, 2, 4, 5, 6, 7])
    places = np.column_stack([np.full(7, 9.0), 3.0 * np.arange(7)])
    assert moving(frames, places) == []


def test_nothing():
    assert moving(np.empty(0), np.empty((0, 2))) == []
