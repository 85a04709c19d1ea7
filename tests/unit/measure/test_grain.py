"""Noise from frame to frame."""

import numpy as np
import pytest

from viscount.measure.grain import grain_sigma, sparse


def frame(seed: int, sigma: float, light: float = 1.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    noisy = 150 * light + rng.normal(0, sigma, (200, 160))
    return np.rint(noisy).clip(0, 255).astype(np.uint8)


@pytest.mark.parametrize("sigma", [1.0, 2.0, 6.0])
def test_sigma(sigma: float):
    found = grain_sigma(sparse(frame(1, sigma)), sparse(frame(2, sigma)))
    # Rounding to whole greys adds a variance of 1/12.
    assert found == pytest.approx((sigma**2 + 1 / 12) ** 0.5, rel=0.06)


def test_neither_light_nor_parts_are_noise():
    other = frame(2, 2.0, light=1.1)
    other[40:120, 60:80] = 30
    assert grain_sigma(sparse(frame(1, 2.0)), sparse(other)) == pytest.approx(2.0, rel=0.08)
