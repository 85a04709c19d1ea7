"""Paths fitted together, against falls that are integrated numerically."""

import math

import numpy as np
import pytest
from falls import G, fallen

from viscount.measure.scale.paths import Fallen, Prior, fit_paths, groups_of, own_acceleration

SCALE = 4.0


def known(drag_per_m: float, growth_per_px: float) -> Prior:
    """What is sure beforehand of drag and perspective."""
    drag = 1e-3 * drag_per_m / SCALE
    return Prior(drag_per_px=drag, drag_u=1e-9, growth_per_px=growth_per_px, growth_u=1e-9)


@pytest.mark.parametrize("drag", [0.0, 0.1, 0.3])
def test_drag_is_as_integrated(drag: float):
    parts = fallen(np.random.default_rng(1), drag_per_m=drag, sigma_px=1e-3, speed_mm_s=500.0)
    found = fit_paths(parts, known(drag, 0.0), start=SCALE * G)
    assert found.values[0] == pytest.approx(SCALE * G, rel=3e-4)


@pytest.mark.parametrize("tilt", [2.0, -2.0])
def test_perspective_is_as_projected(tilt: float):
    parts = fallen(np.random.default_rng(1), drag_per_m=0.0, tilt_deg=tilt, sigma_px=1e-3)
    # dy/dz of a plane that nods by q at D: 1 - 2 z sin q / D; z in mm.
    growth = -2 * math.sin(math.radians(tilt)) / 300.0 / SCALE
    found = fit_paths(parts, known(0.0, growth), start=SCALE * G)
    assert found.values[0] == pytest.approx(SCALE * math.cos(math.radians(tilt)) * G, rel=2e-3)
    free = fit_paths(parts, known(0.0, 0.0), start=SCALE * G, free=True)
    assert free.values[2] == pytest.approx(growth, rel=0.05)


def test_a_prior_moves_the_values_by_what_it_says():
    parts = fallen(np.random.default_rng(2), count=5)
    prior = Prior(drag_per_px=1e-5, drag_u=4e-6, growth_per_px=0.0, growth_u=5e-5)
    moved = Prior(drag_per_px=1e-5, drag_u=4e-6, growth_per_px=5e-5, growth_u=5e-5)
    one = fit_paths(parts, prior, start=SCALE * G)
    two = fit_paths(parts, moved, start=SCALE * G)
    assert two.values[0] - one.values[0] == pytest.approx(float(one.by_prior[2, 0]), rel=0.1)


def test_one_parabola():
    t = np.linspace(0.0, 0.1, 9)
    part = Fallen(t_s=t, y_px=3.0 + 700 * t + 20_000.0 * t**2, sigma_px=np.full(9, 0.1))
    a, sigma = own_acceleration(part)
    assert a == pytest.approx(40_000.0)
    # Of the design, by hand: the quadratic's own variance over nine even places.
    quadratic = 0.5 * (t - t.mean()) ** 2
    left = quadratic - quadratic.mean()
    assert sigma == pytest.approx(0.1 / math.sqrt(float(left @ left)))


@pytest.mark.parametrize(
    ("n", "beside", "groups"), [(20, 1, 20), (20, 4, 5), (20, 9, 4), (3, 9, 3)]
)
def test_groups_of_parts_that_share_a_shake(n: int, beside: int, groups: int):
    assert groups_of(n, beside) == groups
