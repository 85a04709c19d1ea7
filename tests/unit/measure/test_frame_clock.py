"""The frame clock against times whose rounding is known."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.measure.frame_clock import fit_frame_clock

MS = 1_000_000


def rounded(true_ns: np.ndarray, tick_ns: float) -> np.ndarray:
    return np.rint(np.rint(true_ns / tick_ns) * tick_ns).astype(np.int64)


@pytest.mark.parametrize("fps", [30.0, 120.0, 240.0, 30000 / 1001])
def test_millisecond_rounding_is_undone(fps: float):
    true = np.arange(400) * 1e9 / fps
    clock = fit_frame_clock(rounded(true, MS), MS)
    error = clock.true_ns - true
    assert clock.steady
    # The rounding alone has 0.29 ms (rectangular distribution, JCGM 100, 4.3.7).
    assert np.std(rounded(true, MS) - true) > 0.2 * MS or fps == 250
    assert np.abs(error - error.mean()).max() < 0.06 * MS


def test_stated_sigma_covers_the_error():
    rng = np.random.default_rng(5)
    ratios = []
    for _ in range(60):
        true = rng.uniform(0, MS) + np.arange(300) * 1e9 / rng.uniform(29, 241)
        clock = fit_frame_clock(rounded(true, MS), MS)
        error = clock.true_ns - true
        ratios.append(np.std(error) / clock.sigma_ns)
    assert max(ratios) < 1.5


def test_missing_frames_keep_their_place():
    true = np.delete(np.arange(300) * 1e9 / 120, slice(100, 106))
    clock = fit_frame_clock(rounded(true, MS), MS)
    assert clock.steady
    np.testing.assert_allclose(clock.true_ns, true, atol=0.06 * MS)


def test_pieces_after_a_long_pause_are_fitted_on_their_own():
    first = np.arange(100) * 1e9 / 120
    true = np.concatenate([first, first[-1] + 1.23456e9 + first])
    clock = fit_frame_clock(rounded(true, MS), MS)
    assert clock.steady
    np.testing.assert_allclose(clock.true_ns, true, atol=0.12 * MS)


def test_a_wandering_clock_is_used_as_it_stands():
    rng = np.random.default_rng(6)
    true = np.cumsum(rng.uniform(6e6, 11e6, 200))
    raw = rounded(true, MS)
    clock = fit_frame_clock(raw, MS)
    assert not clock.steady
    np.testing.assert_array_equal(clock.true_ns, raw)
    assert clock.sigma_ns == pytest.approx(MS / np.sqrt(12))


@given(shift=st.integers(-(10**15), 10**15))
def test_shifting_all_times_shifts_the_fit(shift: int):
    raw = rounded(np.arange(50) * 1e9 / 60, MS)
    plain, moved = fit_frame_clock(raw, MS), fit_frame_clock(raw + shift, MS)
    assert np.abs(moved.true_ns - shift - plain.true_ns).max() <= 1


def test_times_that_are_not_in_the_file_are_left_alone():
    clock = fit_frame_clock(rounded(np.arange(50) * 1e9 / 60, MS), MS)
    assert clock.at(7 * MS + 3) == 7 * MS + 3
    assert clock.at(int(clock.raw_ns[3])) == int(clock.true_ns[3])


@pytest.mark.parametrize("late_ms", [0.5, 1.5])
def test_times_taken_late_are_fitted(late_ms):
    """A steady camera whose frames are stamped on arrival, up to a few milliseconds late."""
    rng = np.random.default_rng(4)
    true = np.arange(150) * 1e9 / 120
    raw = np.maximum.accumulate(true + np.abs(rng.normal(0, late_ms * 1e6, 150))).astype(np.int64)
    clock = fit_frame_clock(raw + np.arange(150), 1000.0)
    assert clock.steady
    off = clock.true_ns - true
    # On average they are late by the mean of what they are late by; beside that they are true.
    assert np.abs(off - off.mean()).max() < 3 * clock.sigma_ns
    assert off.mean() == pytest.approx(late_ms * 1e6 * np.sqrt(2 / np.pi), rel=0.2)


def test_a_rate_that_varies_is_not_taken_for_late_times():
    rng = np.random.default_rng(4)
    raw = np.cumsum(1e9 / 120 * (1 + 0.05 * rng.standard_normal(150))).astype(np.int64)
    assert not fit_frame_clock(raw, 1000.0).steady


@pytest.mark.parametrize("seed", range(5))
def test_a_rate_that_wanders_is_not_taken_for_times_that_are_late(seed: int):
    """Rounding sets neighbouring steps against each other too; a random walk leaves the line."""
    steps = 1e9 / 120 * (1 + 0.015 * np.random.default_rng(seed).standard_normal(300))
    assert not fit_frame_clock(rounded(np.cumsum(steps), MS), MS).steady
