"""What the lens makes of a sharp picture."""

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Picture = NDArray[np.float32]

REACH_SIGMAS = 4.0


def reach_px(sigma_px: float) -> int:
    """Return how far the lens blurs, in whole px."""
    return math.ceil(REACH_SIGMAS * sigma_px)


def blurred(layer: Picture, sigma_px: float, beyond: Literal["constant", "nearest"]) -> Picture:
    """Return a layer as the lens shows it; beyond its border it is 0, or goes on as it is there."""
    soft: Picture = ndimage.gaussian_filter(layer, sigma_px, mode=beyond, truncate=REACH_SIGMAS)
    return soft
