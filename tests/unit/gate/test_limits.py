"""Limits of a chance from few pours and strokes."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta

from viscount.gate.limits import high_limit, low_limit, trials_to_promise


@pytest.mark.parametrize("trials", [1, 5, 20, 300])
def test_all_well_gives_the_exact_binomial_limit(trials: int) -> None:
    assert low_limit(1.0, trials) == pytest.approx(float(beta.ppf(0.025, trials, 1)))
    assert high_limit(0.0, trials) == pytest.approx(float(beta.ppf(0.975, 1, trials)))
    assert (low_limit(0.0, trials), high_limit(1.0, trials)) == (0.0, 1.0)


def test_limits_are_no_narrower_than_the_exact_binomial_ones() -> None:
    for trials in (4, 10, 50):
        for met in range(1, trials):
            exact = float(beta.ppf(0.025, met, trials - met + 1))
            assert low_limit(met / trials, trials) <= exact


@given(mean=st.floats(0, 1), trials=st.integers(1, 1000))
def test_limits_hold_the_mean_and_mirror(mean: float, trials: int) -> None:
    low, high = low_limit(mean, trials), high_limit(mean, trials)
    assert 0 <= low <= mean + 1e-12
    assert mean - 1e-12 <= high <= 1
    assert high_limit(1 - mean, trials) == pytest.approx(1 - low, abs=1e-9)
    assert low_limit(mean, trials + 1) >= low - 1e-9


@pytest.mark.parametrize(("rate", "least"), [(0.5, 6), (0.9, 36), (0.99, 368), (0.999, 3688)])
def test_as_many_trials_are_asked_for_as_a_promise_takes(rate: float, least: int) -> None:
    assert trials_to_promise(rate) == least
    assert low_limit(1.0, least) >= rate - 1e-12
    assert low_limit(1.0, least - 1) < rate


def test_limits_of_every_pour_with_every_stroke_hold_the_truth() -> None:
    """Chances that hang on pour and stroke together: the truth is outside in less than 5 %."""
    rng = np.random.default_rng(11)
    pours, gates = 12, 15
    true, outside, runs = 0.0, 0, 400
    grid = (np.arange(4000) + 0.5) / 4000
    # Exact where the pour's u and the stroke's v, both even on 0 to 1, add up to less than 1.6.
    true = float(np.mean(np.clip(1.6 - grid, 0, 1)))
    for _ in range(runs):
        mean = float(np.mean(rng.random(pours)[:, None] + rng.random(gates) < 1.6))
        trials = min(pours, gates)
        outside += not low_limit(mean, trials) <= true <= high_limit(mean, trials)
    assert outside <= 0.05 * runs
    # As if all products were trials of their own, far more than 5 % are outside.
    naive = 0
    for _ in range(runs):
        mean = float(np.mean(rng.random(pours)[:, None] + rng.random(gates) < 1.6))
        naive += not low_limit(mean, pours * gates) <= true <= high_limit(mean, pours * gates)
    assert naive > 0.1 * runs
    assert math.isfinite(true)
