"""Times of arrival freed of their scatter: what is left of it, and what gaps do."""

from itertools import pairwise

import numpy as np
import pytest

from viscount.devices.cameras.arrival import WINDOW, ArrivalClock

INTERVAL = 8_333_333


def off_ns(arrivals: np.ndarray, true: np.ndarray) -> np.ndarray:
    """Return by how much each time is off, apart from what all arrive late by."""
    clock = ArrivalClock()
    found = []
    for this, after in pairwise([*arrivals.tolist(), None]):
        late = clock.is_late(this)
        found.append(clock.at(this, after if late else None))
    found = np.array(found)
    assert (np.diff(found) > 0).all()
    return found - true


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_scatter_shrinks_by_the_line_through_the_last_arrivals(seed: int) -> None:
    rng = np.random.default_rng(seed)
    true = np.arange(1000) * INTERVAL
    scatter = 500_000.0
    off = off_ns(true + 5_000_000 + rng.normal(0, scatter, 1000).astype(int), true)[WINDOW + 1 :]
    # At its end a line through n points scatters by 2 / sqrt(n) of one point.
    assert off.std() < 1.5 * 2.0 / np.sqrt(WINDOW) * scatter
    assert abs(off.mean() - 5_000_000) < 0.2 * scatter


def test_even_arrivals_are_left_alone() -> None:
    true = np.arange(300) * INTERVAL
    assert np.abs(off_ns(true, true)).max() <= 2


def test_lost_frames_leave_their_gap() -> None:
    kept = np.delete(np.arange(400), [200, 201, 202, 300])
    true = kept * INTERVAL
    assert np.abs(off_ns(true, true)).max() <= 2


def test_one_late_frame_does_not_move_the_others() -> None:
    true = np.arange(400) * INTERVAL
    late = true.copy()
    late[300] += 4_000_000
    off = off_ns(late, true)
    assert np.abs(off[301:]).max() < 100_000
    assert off[300] < 1_000_000


@pytest.mark.parametrize("gap_s", [0.2, 1.0, 30.0])
def test_after_a_long_silence_times_begin_anew(gap_s: float) -> None:
    true = np.arange(400) * INTERVAL
    true[200:] += round(gap_s * 1e9) + 1_234_567
    off = off_ns(true, true)
    assert np.abs(off).max() <= 2


def test_another_rate_is_taken_up() -> None:
    steps = np.concatenate([np.full(300, INTERVAL), np.full(300, round(1.5 * INTERVAL))])
    true = np.cumsum(steps)
    off = off_ns(true, true)
    assert np.abs(off[400:]).max() < 0.1 * INTERVAL


def test_frames_that_were_held_up_keep_their_own_times() -> None:
    true = np.arange(400) * INTERVAL
    late = true.copy()
    late[300:306] = true[305] + np.arange(6) * 100_000
    off = off_ns(late, true)
    assert np.abs(off).max() < 200_000


def test_lost_frames_are_told_from_late_ones_by_what_follows() -> None:
    true = np.delete(np.arange(400), [300, 301, 302]) * INTERVAL
    assert np.abs(off_ns(true, true)).max() <= 2


def test_arrivals_cannot_be_early_so_a_wrong_number_is_taken_back() -> None:
    """Without a look at the next arrival, lateness is taken for loss at first."""
    clock = ArrivalClock()
    true = np.arange(400) * INTERVAL
    late = true.copy()
    late[300:306] = true[305] + np.arange(6) * 100_000
    off = np.array([clock.at(int(t)) for t in late]) - true
    assert np.abs(off[340:]).max() < 200_000
