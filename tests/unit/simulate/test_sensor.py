"""What the sensor makes of light."""

import numpy as np
import pytest

from viscount.simulate.scene import Camera
from viscount.simulate.sensor import levels, noise_sigma


def read(grey: float, camera: Camera, size: int = 400) -> np.ndarray:
    light = np.full((size, size), grey, dtype=np.float32)
    return levels(light, camera, np.random.default_rng(3))


@pytest.mark.parametrize("grey", [40.0, 120.0, 200.0])
@pytest.mark.parametrize(("noise", "shot"), [(2.0, 0.0), (0.0, 0.2), (3.0, 0.1)])
def test_noise_variance_is_that_of_the_model(grey: float, noise: float, shot: float) -> None:
    """Read noise squared, plus shot noise in proportion to the light, plus 1/12 by rounding."""
    camera = Camera(noise=noise, shot_noise=shot)
    found = read(grey, camera).astype(float)
    expected = noise**2 + shot * grey + 1 / 12
    # The variance of a variance of n values is 2/n of its square.
    assert found.var() == pytest.approx(expected, rel=5 * np.sqrt(2 / found.size))
    assert found.mean() == pytest.approx(grey, abs=5 * np.sqrt(expected / found.size))
    assert noise_sigma(camera, grey) ** 2 + 1 / 12 == pytest.approx(expected)


@pytest.mark.parametrize("gamma", [0.5, 1.0, 2.2])
def test_gamma(gamma: float) -> None:
    """255 (x / 255)^(1 / gamma), rounded; in the last grey of darkness to a grey and a half."""
    greys = np.linspace(0, 255, 3001, dtype=np.float32)
    found = levels(greys[None].copy(), Camera(noise=0.0, gamma=gamma), np.random.default_rng(3))
    off = np.abs(found[0] - 255 * (greys / 255.0) ** (1 / gamma))
    assert off[greys >= 1].max() < 0.53
    assert off.max() < 1.5


@pytest.mark.parametrize("gamma", [1.0, 2.2])
def test_levels_are_clipped(gamma: float) -> None:
    for grey, expected in ((-50.0, 0), (400.0, 255)):
        assert (read(grey, Camera(noise=0.0, gamma=gamma), 3) == expected).all()
