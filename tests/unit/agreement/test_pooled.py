"""Statistics of many runs; the outside values stand in tests/peers/test_capture_recapture.py."""

import pytest
from scipy import stats

from viscount.agreement.pooled import (
    both_missed,
    chapman,
    error_limits,
    event_limits,
    good_needed,
    kappa,
    lincoln_petersen,
    more_needed,
    rate_below,
)


def test_what_both_missed_needs_parts():
    assert both_missed(150, 30, 19) is None
    assert both_missed(151, 30, 19) is not None


def test_nothing_missed_by_one_is_nothing_missed_by_both():
    found = both_missed(300, 20, 0)
    assert found is not None
    assert found.value == pytest.approx(0.0, abs=1e-9)
    assert found.sigma == 0.0


def test_impossible_catches_are_refused():
    with pytest.raises(ValueError, match="12 in both"):
        lincoln_petersen(10, 20, 12)
    with pytest.raises(ValueError, match="twice"):
        lincoln_petersen(10, 20, 0)
    with pytest.raises(ValueError, match="in both"):
        chapman(10, 20, -1)


def test_good_ones_needed():
    assert good_needed(1e-3, good_so_far=2000) == 995
    assert good_needed(1e-3, good_so_far=5000) == 0
    assert rate_below(0) == 1.0
    with pytest.raises(ValueError, match="between 0 and 1"):
        good_needed(0.0)


def test_enough_good_ones_are_just_enough():
    for rate in (0.2, 0.01, 1e-4):
        n = good_needed(rate)
        assert rate_below(n) <= rate < rate_below(n - 1)


def test_limits_hold_the_observed_rate():
    assert error_limits(0, 50).low == 0.0
    assert error_limits(50, 50).high == 1.0
    limits = event_limits(7, 100.0)
    assert limits.low < 0.07 < limits.high
    assert event_limits(0, 10.0).low == 0.0


def test_perfect_agreement():
    found = kappa([[20, 0], [0, 30]])
    assert found.value == pytest.approx(1.0)
    assert found.sigma == pytest.approx(0.0, abs=1e-9)
    with pytest.raises(ValueError, match="not defined"):
        kappa([[50, 0], [0, 0]])


def test_without_a_bad_one_more_needed_is_good_needed():
    for rate in (0.5, 0.05, 1e-3):
        for good in (0, 1, 17, 59, 4000):
            assert more_needed(rate, 0, good) == good_needed(rate, good)


@pytest.mark.parametrize(("bad", "total", "rate"), [(1, 30, 0.05), (3, 100, 0.02), (2, 2, 0.3)])
def test_after_bad_ones_the_exact_limit_is_just_below(bad: int, total: int, rate: float):
    """The one-sided upper limit is a quantile of a beta distribution (Clopper and Pearson)."""
    whole = total + more_needed(rate, bad, total)
    assert stats.beta.ppf(0.95, bad + 1, whole - bad) <= rate
    assert stats.beta.ppf(0.95, bad + 1, whole - 1 - bad) > rate


def test_a_rate_of_all_or_nothing_is_refused():
    for rate in (0.0, 1.0):
        with pytest.raises(ValueError, match="between 0 and 1"):
            more_needed(rate, 0, 5)
