"""Offset, drift and height: filter and smoother against plain least squares."""

import numpy as np
import pytest

from viscount.agreement import clock_state
from viscount.agreement.clock_state import carried, smoothed, unknown, updated


def matches(rng: np.random.Generator, n: int = 300, span_s: float = 60.0):
    t = np.sort(rng.uniform(0, span_s, n))
    common = rng.uniform(500, 2000, n)
    y = 1234.0 + 40.0 * t + 0.7 * common + 100.0 * rng.standard_normal(n)
    return t, y, common, np.full(n, 100.0)


def test_stretch_by_stretch_is_least_squares(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(clock_state, "WANDER_PPM_PER_ROOT_S", 0.0)
    rng = np.random.default_rng(3)
    t, y, common, sigma = matches(rng)
    state = unknown(0.0, 0.0, 1e7, 0.0)
    states = []
    for chosen in np.array_split(np.arange(t.size), 7):
        state = carried(state, float(t[chosen].mean()))
        state = updated(state, t[chosen], y[chosen], common[chosen], sigma[chosen])
        states.append(state)
    first = smoothed(states)[0]
    rows = np.column_stack([np.ones(t.size), t - first.at_s, common]) / sigma[:, None]
    prior = np.diag([0.0, 1 / clock_state.DRIFT_PRIOR_PPM, 1.0])
    whole = np.vstack([rows, prior])
    seen = np.concatenate([y / sigma, np.zeros(3)])
    expected = np.linalg.lstsq(whole, seen, rcond=None)[0]
    np.testing.assert_allclose(first.mean, expected, rtol=1e-5)
    np.testing.assert_allclose(first.cov, np.linalg.inv(whole.T @ whole), rtol=1e-4, atol=1e-8)


def test_a_pause_makes_the_offset_unsure_by_the_drift():
    state = updated(
        unknown(0.0, 0.0, 1e6, 0.0), np.zeros(100), np.zeros(100), np.zeros(100), np.full(100, 50.0)
    )
    later = carried(state, 600.0)
    assert np.sqrt(later.cov[0, 0]) == pytest.approx(600 * clock_state.DRIFT_PRIOR_PPM, rel=0.01)


def test_drift_wanders_by_a_ppm_in_an_hour():
    known = unknown(0.0, 0.0, 1.0, 0.0)
    known.cov[1, 1] = 1e-12
    assert np.sqrt(carried(known, 3600.0).cov[1, 1]) == pytest.approx(1.0)
    assert np.sqrt(carried(known, -3600.0).cov[1, 1]) == pytest.approx(1.0)


def test_variance_of_what_is_expected_is_that_of_the_carried_state():
    state = unknown(0.0, 5.0, 30.0, 700.0)
    at = np.array([-200.0, 0.0, 100.0])
    common = np.array([0.0, 700.0, 300.0])
    expected = []
    for t, c in zip(at, common, strict=True):
        cov = carried(state, float(t)).cov
        row = np.array([1.0, 0.0, c])
        expected.append(row @ cov @ row)
    np.testing.assert_allclose(state.variance(at, common), expected, rtol=1e-9)


def test_what_is_known_at_first_is_when_parts_meet():
    # 30 us for the usual part, whose height shares 700 us of uncertainty with the offset.
    state = unknown(0.0, 5.0, 30.0, 700.0)
    variance = state.variance(np.zeros(2), np.array([700.0, 0.0]))
    np.testing.assert_allclose(np.sqrt(variance), [30.0, np.hypot(30.0, 700.0)])
