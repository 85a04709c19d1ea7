"""Paths fitted to many parts at once."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit
from steady_tracks import model

from viscount.motion.paths import fitted

ACCELERATION = 20000.0


def way(rng: np.random.Generator, sights: int) -> np.ndarray:
    """Sightings of one falling part, each as unsure as another."""
    t_s = 0.5 + np.arange(sights) / 120
    y = -100.0 + 2500.0 * (t_s - 0.5) + 0.5 * ACCELERATION * (t_s - 0.5) ** 2
    var = rng.uniform(0.01, 0.2, sights)
    return np.stack([t_s, y + rng.normal(0.0, np.sqrt(var)), var])


@given(st.integers(0, 10_000), st.integers(3, 15))
def test_place_speed_and_covariance_are_those_of_weighted_least_squares(seed: int, sights: int):
    """Peer: scipy.optimize.curve_fit with absolute sigmas."""
    rng = np.random.default_rng(seed)
    one = way(rng, sights)
    paths = fitted([one], model(2500.0, ACCELERATION), with_prior=False)

    def law(t_s: np.ndarray, y: float, speed: float) -> np.ndarray:
        dt = t_s - paths.t_s[0]
        return y + speed * dt + 0.5 * ACCELERATION * dt**2

    best, covariance = curve_fit(law, one[0], one[1], sigma=np.sqrt(one[2]), absolute_sigma=True)
    misfit = (((one[1] - law(one[0], *best)) ** 2) / one[2]).sum() / max(sights - 2, 1)
    assert paths.misfit[0] == pytest.approx(misfit, rel=1e-3)
    assert (paths.y[0], paths.speed[0]) == pytest.approx(tuple(best), rel=1e-4)
    widened = max(misfit / (1.0 + 2.0 * np.sqrt(2.0 / max(sights - 2, 1))), 1.0)
    own = (paths.var_y[0], paths.cov[0], paths.var_speed[0])
    peer = widened * covariance
    scale = np.sqrt(peer[0, 0] * peer[1, 1])
    assert own[0] == pytest.approx(peer[0, 0], rel=1e-3)
    assert own[1] == pytest.approx(peer[0, 1], rel=1e-3, abs=1e-3 * scale)
    assert own[2] == pytest.approx(peer[1, 1], rel=1e-3)


def test_many_at_once_are_each_as_alone():
    rng = np.random.default_rng(1)
    ways = [way(rng, sights) for sights in (1, 2, 9, 4)]
    with_prior = np.array([True, False, True, False])
    paths = fitted(ways, model(2500.0, ACCELERATION), with_prior=with_prior)
    for k, one in enumerate(ways):
        alone = fitted([one], model(2500.0, ACCELERATION), with_prior=bool(with_prior[k]))
        for mine, its in zip(paths.one(k).at_line(1), alone.at_line(1), strict=True):
            assert mine == pytest.approx(its, rel=1e-9)
        assert paths.squares[k] == pytest.approx(alone.squares[0])


def test_a_thrown_body_passes_a_height_twice():
    """At 3 px/s upwards under 10 px/s², 0.4 px below the line: up after 0.2 s, down after 0.4 s."""
    t_s = np.linspace(0.0, 0.1, 7)
    up = np.stack([t_s, 0.4 - 3.0 * t_s + 5.0 * t_s**2, np.full(7, 1e-6)])
    path = fitted([up], model(3.0, 10.0), with_prior=False)
    for heading, at_s in ((-1, 0.2), (1, 0.4)):
        t, _, speed = path.at_line(heading)
        assert (t[0], speed[0]) == pytest.approx((at_s, heading * 1.0), abs=1e-3)
