"""Lamps on the mains before a rolling shutter, for the tests of seeing."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from pictures import Picture
from scipy.ndimage import gaussian_filter

SHAPE = (160, 120)
"""The picture of these tests; rows fall down."""


def phases(frames: int, *, fps: float = 60.0, hz: float = 100.0) -> NDArray[np.float64]:
    """Return a lamp's phase, in cycles, in the first line of each frame."""
    return np.arange(frames) * hz / fps + 0.17


def swinging(
    at: Sequence[float] | NDArray[np.float64],
    *,
    axis: int = 0,
    cycles: float = 0.57,
    depth: float = 0.08,
    shape: tuple[int, int] = SHAPE,
) -> list[Picture]:
    """Return the light over the picture in frames with these phases, (H, 1) or (1, W) each.

    The lines are read in the order of rows (axis 0) or columns (1), in so many cycles.
    """
    lines = np.arange(shape[axis]) / shape[axis] * cycles
    waves = [1 + depth * np.sin(2 * np.pi * (phase + lines)) for phase in at]
    return [wave[:, None] if axis == 0 else wave[None, :] for wave in waves]


def switched(
    at: Sequence[float] | NDArray[np.float64],
    *,
    duty: float,
    cycles: float,
    depth: float = 0.15,
    shape: tuple[int, int] = SHAPE,
) -> list[Picture]:
    """Return the light, row by row, of a lamp that is on for `duty` of each period.

    Each line is exposed over a fifth of a period.
    """
    lines = np.arange(shape[0]) / shape[0] * cycles
    moments = (np.arange(64) + 0.5) / 64 / 5
    shares = [((p + lines[:, None] + moments) % 1 < duty).mean(axis=1) for p in at]
    return [1 - depth + depth * share[:, None] / duty for share in shares]


def board(shape: tuple[int, int] = SHAPE, grey: float = 120.0, contrast: float = 6.0) -> Picture:
    """Return an empty scene with a blotched background."""
    blotches = gaussian_filter(np.random.default_rng(9).normal(size=shape), 6)
    return np.asarray(grey + contrast * blotches / blotches.std())
