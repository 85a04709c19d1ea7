"""Things that lie in an empty scene from first to last, and look as parts do."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

_LIKE_CONTRAST = 0.5
"""Share of a part's contrast from which on something may be one."""

_LIKE_AREA = (0.5, 2.0)
"""Times a part's area between which something may be one."""

_MOST = 3
"""More such things than this are a pattern of the background."""

_UNREST = 0.2
"""More of the picture than this that differs so much is a background of its own kind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where something stands (centre) and how large it is, in px and px²."""

    x_px: float
    y_px: float
    area_px: float


def standing(
    level: NDArray[np.float32], *, area_px: float, contrast: float
) -> tuple[Standing, ...]:
    """Return what in an empty scene has a part's area and contrast, whole in view.

    The scene without it is taken to be even along rows and along columns: the sum of their
    medians, less the median of all.

    Parameters
    ----------
    level : float32 (H, W), grey of the empty scene.
    area_px, contrast : of a usual part.
    """
    rows = np.median(level, axis=1, keepdims=True)
    columns = np.median(level, axis=0, keepdims=True)
    strange = np.abs(level - (rows + columns - np.median(level))) > _LIKE_CONTRAST * contrast
    if strange.mean() > _UNREST:
        return ()
    labels, count = ndimage.label(strange)
    height, width = level.shape
    found = []
    for number, place in enumerate(ndimage.find_objects(labels, count), start=1):
        tall, broad = place
        inside = labels[place] == number
        area = float(inside.sum())
        at_border = tall.start == 0 or broad.start == 0 or tall.stop == height
        if at_border or broad.stop == width:
            continue
        if _LIKE_AREA[0] * area_px <= area <= _LIKE_AREA[1] * area_px:
            y, x = ndimage.center_of_mass(inside)
            found.append(Standing(x_px=x + broad.start, y_px=y + tall.start, area_px=area))
    return tuple(found) if len(found) <= _MOST else ()
