"""Noise of the picture from frame to frame, whatever moves or flickers in it."""

import numpy as np
from numpy.typing import NDArray

_SIDE = 64
"""Pixels compared along each side of the picture, at most."""

_WITHIN = 3.0
"""Differences within so many sigma are noise; the rest is something that moved."""


def sparse(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return an even choice of the pixels, at most (64, 64), as float32."""
    steps = [max(1, size // _SIDE) for size in pixels.shape]
    return pixels[:: steps[0], :: steps[1]][:_SIDE, :_SIDE].astype(np.float32)


def grain_sigma(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    """Return the noise of one pixel in grey, from two frames of the same scene.

    The standard deviation of their difference over the root of two, once the medians of rows
    and columns (the light) are taken off, without what lies beyond 3 sigma, twice over. The
    bulk that is left of a normal distribution is 1.3 % too narrow, which is left so.

    Parameters
    ----------
    one, other : as `sparse` returns them.
    """
    apart = other - one
    apart = apart - np.median(apart, axis=1, keepdims=True)
    apart = apart - np.median(apart, axis=0, keepdims=True)
    spread = max(1.4826 * float(np.median(np.abs(apart))), 0.5)
    for _ in range(2):
        kept = apart[np.abs(apart) <= _WITHIN * spread]
        spread = max(float(kept.std()), 0.1)
    return spread / float(np.sqrt(2.0))
