"""The bores of a region: a nut or a washer has one, and two that cover one another show two."""

from collections.abc import Sequence

import cv2
from cv2.typing import MatLike

Nested = Sequence[Sequence[int]]
"""Of each contour the next one, the previous one, the first inside and the one around it; -1 where
there is none."""

_LEAST_PX, _LEAST_SHARE = 20.0, 0.04
"""Lesser openings, in px² each, and together as a share of the outline's area, are noise or
glints. However many parts are in a region, together their bores have one part's share of it."""

_ALIKE = 0.4
"""A bore that another part half covers is no smaller than this beside the largest one."""


def bores_of(contours: Sequence[MatLike], tree: Nested, k: int) -> int:
    """Return how many openings of about the same size there are inside a contour.

    Parameters
    ----------
    contours, tree : as OpenCV finds them.
    k : the contour's place among them.
    """
    inside = tree[k][2]
    if inside < 0:
        return 0
    areas: list[float] = []
    while inside >= 0:
        areas.append(cv2.contourArea(contours[inside]))
        inside = tree[inside][0]
    least = max(_LEAST_PX, _ALIKE * max(areas))
    alike = [area for area in areas if area >= least]
    share = _LEAST_SHARE * cv2.contourArea(contours[k])
    return len(alike) if sum(alike) >= share else 0
