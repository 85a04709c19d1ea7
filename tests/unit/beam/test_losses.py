"""Dead time: handbook figures, and random events counted one by one."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.beam.losses import (
    chance_of_shorter_gap,
    counted_rate,
    lost_share,
    true_rate,
    true_rates_paralyzable,
)
from viscount.errors import UsageError

DEAD_S = 5e-3


@pytest.mark.parametrize(
    ("true_hz", "simple", "paralyzable"),
    [(10, 9.5238, 9.5123), (50, 40.000, 38.940), (100, 66.667, 60.653), (200, 100.000, 73.576)],
)
def test_both_models(true_hz: float, simple: float, paralyzable: float):
    """Knoll, Radiation Detection and Measurement, chapter 4: both models, at 5 ms."""
    assert counted_rate(true_hz, DEAD_S, paralyzable=False) == pytest.approx(simple, rel=2e-5)
    assert counted_rate(true_hz, DEAD_S, paralyzable=True) == pytest.approx(paralyzable, rel=2e-5)


def test_lost_shares_and_short_gaps_at_half_a_dead_time():
    assert lost_share(100, DEAD_S, paralyzable=False) == pytest.approx(0.33333, abs=5e-6)
    assert lost_share(100, DEAD_S, paralyzable=True) == pytest.approx(0.39347, abs=5e-6)
    assert chance_of_shorter_gap(100, DEAD_S) == pytest.approx(0.3934693, abs=5e-8)


def test_a_printed_example():
    """S. N. Ahmed, Physics and Engineering of Radiation Detection, p. 195: 1.53e4 counts a second,
    67 % of the time live. The page prints the true rate as 2.83e4, with two digits swapped."""
    dead_s = 0.33 / 1.53e4
    assert dead_s == pytest.approx(21.569e-6, abs=1e-9)
    assert true_rate(1.53e4, dead_s) == pytest.approx(2.2836e4, rel=1e-4)


def test_the_two_rates_behind_a_paralyzable_counter():
    """Its counts are greatest at n tau = 1, where m tau = 1/e (Knoll, chapter 4)."""
    low, high = true_rates_paralyzable(60.653066, DEAD_S)
    assert (low, high) == (pytest.approx(100.000, rel=1e-5), pytest.approx(351.286, rel=1e-5))
    top = counted_rate(200.0, DEAD_S, paralyzable=True)
    assert top * DEAD_S == pytest.approx(0.3678794, abs=1e-7)
    assert true_rates_paralyzable(0.0, DEAD_S) == (0.0, float("inf"))


@given(true_hz=st.floats(0.1, 500.0))
def test_the_true_rate_comes_back(true_hz: float):
    counted = float(counted_rate(true_hz, DEAD_S, paralyzable=False))
    assert true_rate(counted, DEAD_S) == pytest.approx(true_hz, rel=1e-9)
    counted = float(counted_rate(true_hz, DEAD_S, paralyzable=True))
    assert any(
        rate == pytest.approx(true_hz, rel=1e-4)
        for rate in true_rates_paralyzable(counted * (1 - 1e-12), DEAD_S)
    )


def test_random_events_counted_one_by_one():
    """100 a second, blind for 5 ms (Mueller, Nucl. Instrum. Methods 112 (1973) 47)."""
    rng = np.random.default_rng(20240101)
    times = np.cumsum(rng.exponential(1 / 100, 200_000))
    gaps = np.diff(times)
    assert np.mean(gaps > DEAD_S) * 100 == pytest.approx(
        float(counted_rate(100, DEAD_S, paralyzable=True)), rel=0.01
    )
    counted, free = 0, 0.0
    for t in times.tolist():
        if t >= free:
            counted, free = counted + 1, t + DEAD_S
    assert counted / times[-1] == pytest.approx(
        float(counted_rate(100, DEAD_S, paralyzable=False)), rel=0.01
    )


def test_what_no_true_rate_gives_is_refused():
    with pytest.raises(UsageError, match="200 counts a second"):
        true_rate(200.0, DEAD_S)
    with pytest.raises(UsageError, match="74 counts a second"):
        true_rates_paralyzable(74.0, DEAD_S)
