"""The gain: how bright a picture is against the empty scene, as a whole or line by line."""

import numpy as np
from numpy.typing import NDArray

Gain = float | NDArray[np.float32]
"""One number for the whole picture; or, under bands of light, float32 (H, 1) for its rows or
(1, W) for its columns."""


def within(gain: Gain, rows: slice, columns: slice) -> Gain:
    """Return the gain of a part of the picture."""
    if not isinstance(gain, np.ndarray):
        return gain
    return gain[rows] if gain.shape[1] == 1 else gain[:, columns]


def lit(level: NDArray[np.float32], gain: Gain) -> NDArray[np.float32]:
    """Return what a camera shows of the empty scene in this light: 255 where it is too bright."""
    if isinstance(gain, np.ndarray):
        shown: NDArray[np.float32] = np.minimum(level * gain, np.float32(255))
        return shown
    return level if gain == 1 else np.minimum(level * np.float32(gain), np.float32(255))
