"""The law of the fall against tables and worked examples."""

import math

import numpy as np
import pytest
from scipy import constants

from viscount import fall

G = fall.STANDARD_GRAVITY_MM_S2


def test_standard_gravity_is_the_exact_constant():
    # scipy.constants.g: standard acceleration of gravity, exact (3rd CGPM, 1901).
    assert pytest.approx(1e3 * constants.g, rel=1e-12) == G


@pytest.mark.parametrize(
    ("drop_m", "time_ms", "speed_m_s"),
    # sqrt(2 h / g) and sqrt(2 g h) with standard gravity, worked out with scipy 1.17.
    [
        (0.05, 100.981, 0.9903),
        (0.10, 142.809, 1.4005),
        (0.15, 174.904, 1.7152),
        (0.20, 201.962, 1.9806),
        (0.25, 225.800, 2.2143),
        (0.30, 247.352, 2.4257),
        (0.50, 319.330, 3.1316),
        (1.00, 451.601, 4.4287),
    ],
)
def test_fall_from_rest(drop_m: float, time_ms: float, speed_m_s: float):
    drop = 1e3 * drop_m
    assert 1e-3 * fall.speed_at(0.0, G, drop) == pytest.approx(speed_m_s, abs=5e-5)
    assert 1e3 * fall.time_to(0.0, G, drop) == pytest.approx(time_ms, abs=5e-4)


def test_lesson_with_rounded_gravity():
    # A school lesson on free fall (engineering_physics, ep2, page 37) with g = 9.8 m/s².
    for time_s, speed in ((6, 58.8), (8, 78.4)):
        _, v = fall.place_after(0.0, 0.0, 9.8, time_s)
        assert v == pytest.approx(speed)
    for time_s, drop in ((1, 4.9), (2, 19.6), (5, 122.5)):
        y, _ = fall.place_after(0.0, 0.0, 9.8, time_s)
        assert y == pytest.approx(drop)


@pytest.mark.parametrize(
    ("entry_m_s", "edges_ms"),
    # A picket fence of eight bars, 5 cm apart (geometry as makers of school photogates print
    # it); the times by t = (-v0 + sqrt(v0² + 2 g x)) / g.
    [
        (0.0, [0, 100.981, 142.809, 174.904, 201.962, 225.800, 247.352, 267.171, 285.617]),
        (0.5, [0, 62.137, 100.652, 131.198, 157.313, 180.499, 201.566, 221.006, 239.147]),
    ],
)
def test_picket_fence(entry_m_s: float, edges_ms: list[float]):
    bars_mm = 50.0 * np.arange(9)
    np.testing.assert_allclose(1e3 * fall.time_to(1e3 * entry_m_s, G, bars_mm), edges_ms, atol=6e-4)


def test_upstream_times_are_negative_and_undo_downstream_ones():
    u, a = 1500.0, 9000.0
    for y in (-80.0, -1.0, 0.0, 3.0, 200.0):
        tau = float(fall.time_to(u, a, y))
        back, v = fall.place_after(0.0, u, a, tau)
        assert math.copysign(1, tau) == math.copysign(1, y) or y == 0
        assert float(back) == pytest.approx(y, abs=1e-9)
        assert float(v) == pytest.approx(float(fall.speed_at(u, a, y)))


def test_line_speed_undoes_speed_at():
    v = fall.speed_at(1200.0, 9000.0, 50.0)
    assert fall.line_speed(v, 9000.0, 50.0) == pytest.approx(1200.0)


def test_belt_is_a_fall_without_acceleration():
    assert fall.time_to(300.0, 0.0, 150.0) == pytest.approx(0.5)
    assert fall.speed_at(300.0, 0.0, 150.0) == pytest.approx(300.0)


def test_time_sigma_against_a_million_draws():
    rng = np.random.default_rng(7)
    u, a, y = 1500.0, 9806.65, 40.0
    draws = fall.time_to(rng.normal(u, 15.0, 1_000_000), a, rng.normal(y, 0.4, 1_000_000))
    stated = fall.time_sigma(u, a, y, sigma_speed=15.0, sigma_y=0.4)
    assert float(np.std(draws)) == pytest.approx(float(stated), rel=0.01)


def test_time_sigma_of_the_acceleration_by_difference():
    u, y = 1500.0, 60.0
    by_difference = abs(fall.time_to(u, 9806.65 + 30, y) - fall.time_to(u, 9806.65 - 30, y)) / 2
    stated = fall.time_sigma(u, 9806.65, y, sigma_speed=0.0, sigma_y=0.0, sigma_acceleration=30.0)
    assert float(stated) == pytest.approx(float(by_difference), rel=1e-2)
