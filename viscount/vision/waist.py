"""The waist of a region: two parts that touch are narrower where they meet."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from viscount.vision.regions import Region

Floats = NDArray[np.float64]

_LONG = 3.0
"""Two parts side by side, or one behind the other, have this many times the second moment along
the line through both, or more: squares 4, discs 5 (theorem of parallel axes)."""

_LEAST_PX = 10.0
"""Shorter regions have too few pixels for a waist."""

_BROAD_PX = 8.0
"""Of what is less broad on either side, noise alone makes a waist: a pixel at each edge."""

_STEP_PX, _MOST_STEPS = 2.0, 24
"""Widths are taken so often along a region."""

_FULL = 0.75
"""What covers more of its box than this has no room for a cleft between two; discs cover 0.785,
hexagons 0.75 and more."""

_DEEP = 0.4
"""A cleft less deep than this share of the breadth there is a step in one part's outline: under
a screw's head it takes a quarter."""

_TRIANGLE, _DEPTH_UNIT = 3, 256.0
"""What has no more corners has no cleft; OpenCV gives depths in this part of a px."""

_MIDDLE = 0.2
"""Of the region's ends, by this share of its length each, nobody asks for a waist."""


def waist_of(region: Region, moments: tuple[float, float, float]) -> float | None:
    """Return how narrow a region is between two broader places, over the lesser of these.

    1 where it is nowhere narrower in between; None where it is too small, or fills its box too
    well, to be two. Its outline is cut across its longest direction. Two that lie side by side may
    be as long as they are broad together, or cover one another: of these the deepest cleft is
    told. Bores are no part of an outline.

    Parameters
    ----------
    moments : second central moments (xx, xy, yy) in px².
    """
    xx, xy, yy = moments
    middle, half = 0.5 * (xx + yy), math.hypot(0.5 * (xx - yy), xy)
    long = middle + half >= _LONG * (middle - half)
    waist = _narrowest(region.outline, 0.5 * math.atan2(2.0 * xy, xx - yy)) if long else None
    full = region.area > _FULL * region.w * region.h
    if full or min(region.w, region.h) < _LEAST_PX:
        return waist
    beside = _beside_cleft(region.outline)
    return beside if waist is None else min(waist, beside)


def _narrowest(outline: NDArray[np.int32], angle: float) -> float | None:
    """Return the least width, over that of the broader places on either side of it.

    `angle` is that of the direction across which widths are taken; None where it is too short.
    """
    along, across = _turned(outline, angle)
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


def _beside_cleft(outline: NDArray[np.int32]) -> float:
    """Return what an outline's deepest cleft leaves of its breadth; 1 where none is deep.

    A cleft lies between an outline and its convex hull.
    """
    # In order, as convexityDefects wants them: where an outline touches itself they may not be.
    corners = np.sort(cv2.convexHull(outline, returnPoints=False), axis=0)[::-1]
    clefts = cv2.convexityDefects(outline, corners) if len(corners) > _TRIANGLE else None
    if clefts is None:
        return 1.0
    clefts = clefts.reshape(-1, 4)
    begin, end, _, depth = clefts[clefts[:, 3].argmax()]
    x, y = outline[end] - outline[begin]
    places = outline @ np.array([-y, x]) / max(math.hypot(x, y), 1.0)
    share = depth / _DEPTH_UNIT / (places.max() - places.min() + 1.0)
    return float(1.0 - share) if share > _DEEP else 1.0


def _turned(points: NDArray[np.int32], angle: float) -> tuple[Floats, Floats]:
    """Return where points lie along a direction and across it."""
    cosine, sine = math.cos(angle), math.sin(angle)
    x, y = points.T.astype(np.float64)
    return cosine * x + sine * y, cosine * y - sine * x
