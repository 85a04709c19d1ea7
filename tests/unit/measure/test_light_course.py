"""Steps and drift."""

import numpy as np
import pytest

from viscount.measure.light_course import light_course

T = np.arange(240) / 120.0


def noisy(light: np.ndarray) -> np.ndarray:
    return light + np.random.default_rng(7).normal(0, 3e-4, light.size)


def test_steps_are_placed_and_sized():
    light = np.ones(240)
    light[80:] *= 1.2
    light[150:] *= 0.9
    course = light_course(T, noisy(light))
    assert [step.frame for step in course.steps] == pytest.approx([80, 150], abs=1)
    assert [step.percent for step in course.steps] == pytest.approx([20.0, -10.0], abs=0.3)
    assert abs(course.drift_percent) < 0.3
    assert noisy(light) / course.factor == pytest.approx(np.ones(240), abs=0.2)


def test_drift():
    course = light_course(T, noisy(1 - 0.05 * T))
    assert course.steps == ()
    # Against the mean light: 5 / 0.95.
    assert course.percent_per_s == pytest.approx(-5.26, abs=0.05)


def test_flicker_is_neither():
    course = light_course(T, noisy(1 + 0.04 * np.sin(2 * np.pi * 20 * T)))
    assert course.steps == ()
    assert abs(course.drift_percent) < 0.5


def servo(back_s: float) -> np.ndarray:
    """Half the light from 0.6 s on; the exposure approaches double, by its time constant."""
    return np.where(T < 0.6, 1.0, 1 - 0.5 * np.exp(-(T - 0.6) / back_s))


def test_a_camera_that_sets_its_exposure_makes_up_for_a_step():
    for back_s in (0.1, 0.3):
        course = light_course(T, noisy(servo(back_s)))
        assert course.steps
        assert course.made_up_for


def test_light_that_stays_or_returns_at_once_is_not_made_up_for():
    stays, shadow = np.ones(240), np.ones(240)
    stays[80:] = 0.5
    shadow[80:150] = 0.5
    drifts = stays * (1 + 0.1 * T)
    for light in (stays, shadow, 1 / shadow, drifts, 1 - 0.05 * T):
        assert not light_course(T, noisy(light)).made_up_for


@pytest.mark.parametrize("n", [2, 5, 20])
def test_short_clips(n: int):
    assert light_course(T[:n], np.ones(n)).steps == ()
