"""What both counters missed, error rates and kappa: against printed values and scipy."""

import numpy as np
import pytest
from scipy import stats

from viscount.agreement.pooled import (
    chapman,
    error_limits,
    event_limits,
    good_needed,
    kappa,
    lincoln_petersen,
    rate_below,
)


def test_marked_and_caught_again():
    # Worked examples at numeracy-bank.net (mark, release, recapture, 3) and rstudio-pubs 429479.
    assert lincoln_petersen(23, 28, 9) == pytest.approx(71.556, abs=5e-4)
    assert lincoln_petersen(100, 100, 10) == 1000
    assert chapman(100, 100, 10).value == pytest.approx(926.364, abs=5e-4)
    assert lincoln_petersen(10, 15, 5) == 30
    assert chapman(10, 15, 5).value == pytest.approx(28.333, abs=5e-4)
    assert chapman(10, 15, 5).sigma == pytest.approx(5.909, abs=5e-4)


def test_two_imperfect_counters():
    # Chapman 1951 (from memory): 1000 parts, one counter catches 99.8 % of them, the other 95 %.
    assert lincoln_petersen(998, 950, 948) == pytest.approx(1000.105, abs=5e-4)
    assert chapman(998, 950, 948).value == pytest.approx(1000.105, abs=5e-4)


def test_the_estimate_is_where_the_hypergeometric_chance_is_greatest():
    # P(10 | N) peaks at the estimate of Lincoln and Petersen (rstudio-pubs 429479).
    chances = {n: stats.hypergeom.pmf(10, n, 100, 100) for n in range(900, 1100)}
    assert chances[1000] == pytest.approx(0.1389853, abs=5e-8)
    assert chances[998] == pytest.approx(0.1389835, abs=5e-8)
    assert abs(max(chances, key=lambda n: chances[n]) - lincoln_petersen(100, 100, 10)) <= 1


def test_chapmans_sigma_is_honest():
    rng = np.random.default_rng(7)
    values, sigmas = [], []
    for _ in range(2000):
        first, second = rng.random((2, 400)) < [[0.9], [0.8]]
        found = chapman(int(first.sum()), int(second.sum()), int((first & second).sum()))
        values.append(found.value)
        sigmas.append(found.sigma)
    assert np.mean(values) == pytest.approx(400, abs=0.3)
    assert np.std(values) == pytest.approx(np.mean(sigmas), rel=0.06)


def test_exact_limits_of_a_rate():
    # Set-up of NIST/SEMATECH 7.2.4.2 (4 of 20 defective, 90 % two-sided); beta quantiles.
    limits = error_limits(4, 20, confidence=0.90)
    assert (limits.low, limits.high) == pytest.approx((0.0713539, 0.4010281), abs=5e-8)
    assert limits.low == pytest.approx(stats.beta.ppf(0.05, 4, 17))
    assert limits.high == pytest.approx(stats.beta.ppf(0.95, 5, 16))


@pytest.mark.parametrize(
    ("errors", "trials", "low", "high"),
    [
        (0, 20, 0.0, 0.16843347),
        (0, 60, 0.0, 0.05962949),
        (0, 100, 0.0, 0.03621669),
        (0, 300, 0.0, 0.01222097),
        (0, 1000, 0.0, 0.00368208),
        (0, 1500, 0.0, 0.00245623),
        (1, 1000, 2.532e-5, 0.00555892),
        (10, 100, 0.04900469, 0.17622260),
    ],
)
def test_clopper_pearson_as_statsmodels_has_it(errors, trials, low, high):
    # proportion_confint(..., method="beta") of statsmodels 0.15.0.
    limits = error_limits(errors, trials)
    assert limits.low == pytest.approx(low, abs=5e-9)
    assert limits.high == pytest.approx(high, abs=5e-9)


def test_a_lower_limit_as_scipys_own_example_has_it():
    # scipy.stats.binomtest: 3 of 15, lower one-sided 95 % limit; two-sided 90 % has the same.
    assert error_limits(3, 15, confidence=0.90).low == pytest.approx(0.0568468675902, abs=1e-12)


def test_exact_limits_of_a_number_of_events():
    # DescTools' output for 15 events in 400, in statsmodels' own tests of rates.
    limits = event_limits(15, 400.0)
    assert limits.low == pytest.approx(0.0209884653319583, abs=1e-15)
    assert limits.high == pytest.approx(0.0618505471787146, abs=1e-15)


@pytest.mark.parametrize(
    ("events", "low", "high"),
    [
        (0, 0.0, 3.6889),
        (1, 0.0253, 5.5716),
        (2, 0.2422, 7.2247),
        (3, 0.6187, 8.7673),
        (5, 1.6235, 11.6683),
        (10, 4.7954, 18.3904),
        (100, 81.364, 121.627),
    ],
)
def test_limits_of_a_poisson_mean(events, low, high):
    # Halved quantiles of chi-square (scipy 1.17.1).
    limits = event_limits(events, 1.0)
    digits = 5e-4 if events == 100 else 5e-5
    assert (limits.low, limits.high) == pytest.approx((low, high), abs=digits)


def test_rule_of_three():
    # Eypasch et al., BMJ 311 (1995) 619-620: 0 of 1500 is below 1 in 500, 0 of 300 below 1 in 100.
    assert rate_below(1500) < 1 / 500
    assert rate_below(300) < 1 / 100
    assert rate_below(300) == pytest.approx(0.0099361, abs=5e-8)
    assert rate_below(1500) == pytest.approx(0.00199516, abs=5e-9)
    for confidence, multiplier in ((0.95, 2.9957), (0.97, 3.5066), (0.99, 4.6052), (0.995, 5.2983)):
        assert 1e6 * rate_below(10**6, confidence) == pytest.approx(multiplier, abs=1e-4)
    assert good_needed(1e-3) == 2995
    assert good_needed(1e-4) == 29956


def test_kappa_of_two_answers():
    # The usual textbook table after Cohen 1960 (from memory): 20, 5, 10, 15.
    assert kappa([[20, 5], [10, 15]]).value == pytest.approx(0.40)


def test_kappa_as_sas_prints_it():
    # SAS printout in statsmodels' own test of inter-rater agreement.
    found = kappa([[0, 4, 1], [0, 8, 0], [0, 1, 5]])
    assert found.value == pytest.approx(0.484162896, abs=5e-10)
    assert found.sigma == pytest.approx(0.138013578, abs=5e-10)
    assert found.sigma_by_chance == pytest.approx(0.1484, abs=5e-5)
    assert found.value / found.sigma_by_chance == pytest.approx(3.2626, abs=5e-5)
    low, high = found.value + found.sigma * stats.norm.ppf([0.025, 0.975])
    assert (low, high) == pytest.approx((0.213661253, 0.754664539), abs=5e-8)
