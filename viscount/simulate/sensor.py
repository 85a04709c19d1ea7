"""From light to the grey levels that the camera delivers."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.scene import Camera

FINE = 256
"""Entries of the gamma table for each grey level."""


def noise_sigma(camera: Camera, light: float) -> float:
    """Return the sigma of the grey level of a pixel that gets this much light, before gamma."""
    return float(np.sqrt(camera.noise**2 + camera.shot_noise * max(light, 0.0)))


def levels(
    light: NDArray[np.float32], camera: Camera, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Return what the sensor makes of a picture of light; `light` is used up.

    Shot noise has a variance in proportion to the light, reading adds its own; then gamma,
    clipping and rounding.
    """
    if camera.noise or camera.shot_noise:
        grain = rng.standard_normal(light.shape, dtype=np.float32)
        if camera.shot_noise:
            variance = np.maximum(light, 0.0) * np.float32(camera.shot_noise)
            variance += np.float32(camera.noise**2)
            grain *= np.sqrt(variance, out=variance)
        else:
            grain *= np.float32(camera.noise)
        light += grain
    if camera.gamma == 1.0:
        np.rint(light, out=light)
        return np.clip(light, 0, 255, out=light).astype(np.uint8)
    np.clip(light, 0, 255, out=light)
    light *= np.float32(FINE)
    return _gamma_table(camera.gamma)[np.rint(light, out=light).astype(np.uint16)]


@lru_cache(maxsize=8)
def _gamma_table(gamma: float) -> NDArray[np.uint8]:
    light = np.arange(255 * FINE + 1) / (255 * FINE)
    table: NDArray[np.uint8] = np.rint(255 * light ** (1 / gamma)).astype(np.uint8)
    return table
