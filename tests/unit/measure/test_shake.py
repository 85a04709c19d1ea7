"""Shifts, against scipy's Fourier shift of the same scene."""

import numpy as np
import pytest
from scipy.ndimage import fourier_shift, gaussian_filter

from viscount.measure.shake import Shift, shift_px, texture

rng = np.random.default_rng(8)
GRAIN = gaussian_filter(rng.normal(0, 1, (160, 128)), 3.0, mode="wrap")
SCENE = 120 + 12 * GRAIN / GRAIN.std()


def moved(down: float, right: float, *, light: float = 1.0, noise: float = 2.0) -> np.ndarray:
    picture = np.fft.ifft2(fourier_shift(np.fft.fft2(SCENE), (down, right))).real
    noisy = light * picture + np.random.default_rng(9).normal(0, noise, SCENE.shape)
    return np.clip(np.rint(noisy), 0, 255).astype(np.uint8)


def found(picture: np.ndarray) -> Shift:
    held = texture(SCENE.astype(np.float32), 0.5)
    assert held is not None
    shift = shift_px(held, picture)
    assert shift is not None
    return shift


@pytest.mark.parametrize(("down", "right"), [(0, 0), (0.3, -0.2), (-1.4, 0.6), (2.5, 3.2)])
@pytest.mark.parametrize("light", [1.0, 0.8])
def test_shift(down: float, right: float, light: float):
    shift = found(moved(down, right, light=light))
    assert (shift.down_px, shift.right_px) == pytest.approx((down, right), abs=0.08)
    assert shift.sigma_px < 0.1


def test_parts_in_front_do_not_move_it():
    picture = moved(0.4, 0.0)
    picture[20:90, 50:75] = 20
    assert found(picture).down_px == pytest.approx(0.4, abs=0.08)


def test_an_even_background_tells_nothing():
    even = np.full((160, 128), 150, np.float32) + rng.normal(0, 0.4, (160, 128)).astype(np.float32)
    assert texture(even, 0.4) is None


def test_another_scene_is_no_shift():
    held = texture(SCENE.astype(np.float32), 0.5)
    assert held is not None
    other = rng.normal(120, 12, SCENE.shape).clip(0, 255).astype(np.uint8)
    assert shift_px(held, other) is None


def test_a_picture_too_small_to_part():
    assert texture(np.zeros((12, 12), np.float32), 1.0) is None
