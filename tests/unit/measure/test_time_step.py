"""The step of frame times."""

import numpy as np

from viscount.measure.frame_clock import fit_frame_clock
from viscount.measure.time_step import same_rate, time_step_ns


def times(rate_hz: float, step_ns: int, count: int = 100) -> np.ndarray:
    exact = np.arange(count) * 1e9 / rate_hz
    return (np.rint(exact / step_ns) * step_ns).astype(np.int64)


def test_rounding_before_storing_is_found():
    assert time_step_ns(times(120.0, 1_000_000), 1000.0) == 1_000_000
    assert time_step_ns(times(120.0, 1000), 1000.0) == 1000


def test_an_even_pace_is_no_rounding():
    assert time_step_ns(times(25.0, 1000), 1000.0) == 1000.0


def test_a_clock_rounded_before_storing_fits():
    raw = times(120.0, 1_000_000)
    assert not fit_frame_clock(raw, 1000.0).steady
    assert fit_frame_clock(raw, time_step_ns(raw, 1000.0)).steady


def test_one_frame_has_no_step_of_its_own():
    assert time_step_ns(np.array([0]), 1000.0) == 1000.0


def test_rates_alike():
    assert same_rate(29.97, 30.0)
    assert not same_rate(30.0, 120.0)
