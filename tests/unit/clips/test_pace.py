"""The pace of frame times, against times whose loss is known."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from viscount.clips.pace import measure_pace


def test_fewer_than_two_times_have_no_pace() -> None:
    assert measure_pace(np.array([0])) is None


def test_even_times() -> None:
    pace = measure_pace(np.arange(50) * 8_000_000)
    assert pace is not None
    assert pace.interval_ns == 8_000_000
    assert pace.spread_ns == 0
    assert pace.rate_hz == 125.0
    assert pace.steady
    assert pace.gaps == ()


def test_two_intervals_of_which_one_is_a_gap() -> None:
    pace = measure_pace(np.array([0, 33, 153]) * 1_000_000)
    assert pace is not None
    assert [(gap.frame, gap.interval_ns, gap.lost) for gap in pace.gaps] == [(2, 120_000_000, 3)]


@settings(max_examples=300)
@given(
    rate_hz=st.sampled_from([24.0, 30.0, 59.94, 120.0, 240.0, 400.0]),
    missing=st.sets(st.integers(1, 198), max_size=40),
    offset=st.integers(0, 10**6),
)
# Here the lost frames are those that rounding had made late, or early, by turns.
@example(rate_hz=400.0, missing={1, 4, 8, 12, 24}, offset=0)
def test_lost_frames_are_counted_through_millisecond_rounding(
    rate_hz: float, missing: set[int], offset: int
) -> None:
    # Matroska's rounding to 1 ms is up to four tenths of an interval here.
    exact_ms = np.arange(200) * 1000 / rate_hz + offset / 1e6
    kept = np.delete(exact_ms, sorted(missing))
    pace = measure_pace(np.rint(kept).astype(np.int64) * 1_000_000, tick_ns=1_000_000)
    assert pace is not None
    assert pace.steady
    assert pace.lost == len(missing)
    assert pace.rate_hz == pytest.approx(rate_hz, rel=0.02)


@given(
    intervals=st.lists(st.integers(1, 10**10), min_size=1, max_size=50),
    tick_ns=st.floats(0, 1e9),
)
def test_any_rising_times_have_a_pace(intervals: list[int], tick_ns: float) -> None:
    pace = measure_pace(np.cumsum([0, *intervals]), tick_ns)
    assert pace is not None
    assert min(intervals) <= pace.interval_ns * 1.5
    assert pace.interval_ns <= max(intervals) * 1.5
    assert pace.spread_ns >= 0
    assert all(gap.lost >= 1 for gap in pace.gaps)


def test_pulled_down_film_loses_nothing() -> None:
    # Common practice, no source: film of 24 pictures a second shown on 60 fields lasts two and
    # three fields by turns.
    pace = measure_pace(np.cumsum([0, *[2, 3] * 40]) * 16_666_667)
    assert pace is not None
    assert not pace.steady
    assert pace.lost == 0


def test_an_uneven_clock_loses_nothing() -> None:
    pace = measure_pace(np.cumsum([0, *[50, 80] * 40]) * 1_000_000)
    assert pace is not None
    assert not pace.steady
    assert pace.lost == 0


def test_a_long_pause_shows_even_with_an_uneven_clock() -> None:
    pace = measure_pace(np.cumsum([0, *[2, 3] * 20, 30, *[2, 3] * 20]) * 10_000_000)
    assert pace is not None
    assert not pace.steady
    assert [gap.frame for gap in pace.gaps] == [41]
