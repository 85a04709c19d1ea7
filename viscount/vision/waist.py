"""The waist of a region: two parts that touch are narrower where they meet."""

import math

import numpy as np
from numpy.typing import NDArray

from viscount.vision.regions import Region

_LONG = 3.0
"""Two parts side by side, or one behind the other, have this many times the second moment along
the line through both, or more: squares 4, discs 5 (theorem of parallel axes)."""

_LEAST_PX = 10.0
"""Shorter regions have too few pixels for a waist."""

_BROAD_PX = 8.0
"""Of what is less broad on either side, noise alone makes a waist: a pixel at each edge."""

_STEP_PX, _MOST_STEPS = 2.0, 24
"""Widths are taken so often along a region."""

_MIDDLE = 0.2
"""Of the region's ends, by this share of its length each, nobody asks for a waist."""


def waist_of(region: Region, moments: tuple[float, float, float]) -> float | None:
    """Return how narrow a region is between two broader places, over the lesser of these.

    1 where it is nowhere narrower in between; None where it is too round, or too small, to be two.
    Its outline is cut across its longest direction; bores are no part of an outline.

    Parameters
    ----------
    moments : second central moments (xx, xy, yy) in px².
    """
    xx, xy, yy = moments
    middle, half = 0.5 * (xx + yy), math.hypot(0.5 * (xx - yy), xy)
    if middle + half < _LONG * (middle - half):
        return None
    angle = 0.5 * math.atan2(2.0 * xy, xx - yy)
    along, across = _turned(region.outline, angle)
    start = along.min()
    length = float(along.max() - start)
    if length < _LEAST_PX:
        return None
    steps = int(min(length / _STEP_PX, _MOST_STEPS))
    place = np.minimum(((along - start) * (steps / length)).astype(np.intp), steps - 1)
    high, low = np.full(steps, -np.inf), np.full(steps, np.inf)
    np.maximum.at(high, place, across)
    np.minimum.at(low, place, across)
    widths = np.maximum(high - low, 0.0) + 1.0
    before, after = np.maximum.accumulate(widths), np.maximum.accumulate(widths[::-1])[::-1]
    lesser = np.minimum(before, after)
    share = np.where(lesser >= _BROAD_PX, widths / lesser, 1.0)
    ends = math.ceil(_MIDDLE * steps)
    return float(share[ends : steps - ends].min(initial=1.0))


def _turned(points: NDArray[np.int32], angle: float) -> tuple[np.ndarray, np.ndarray]:
    """Return where points lie along a direction and across it."""
    cosine, sine = math.cos(angle), math.sin(angle)
    x, y = points.T.astype(np.float64)
    return cosine * x + sine * y, cosine * y - sine * x
