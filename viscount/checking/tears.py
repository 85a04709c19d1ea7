"""Frames that show one picture in one half and the picture before it in the other.

A part in the old half stands where it stood the frame before, while one in the new half has moved
on; a straight line, along the rows or along the columns, parts the two. What turns round in
mid-air stands still for a moment too, but goes back to where it came from.
"""

from collections import deque
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from viscount.checking.repeats import MOVES_GREY, SAME_GREY, SAME_SHARE
from viscount.checking.series import Series
from viscount.values import Blob, Frame, Sighting

_LARGE = 0.3
"""Share of the largest region's area below which one comes and goes with the noise."""

Pixels = NDArray[np.uint8]


class Tears:
    """Looks at each frame between the two before it and the one after it.

    Attributes
    ----------
    found : columns frame and area, of frames that are torn: in each half some region is no
        smaller than that.
    """

    def __init__(self) -> None:
        self._last: deque[tuple[Frame, Sighting]] = deque(maxlen=4)
        self.found = Series("frame", "area")

    def add(self, frame: Frame, seen: Sighting) -> None:
        """Look at one frame and what was seen in it."""
        self._last.append((frame, seen))
        frames = [one for one, _ in self._last]
        unbroken = all(b.index == a.index + 1 and not b.damaged for a, b in pairwise(frames))
        if len(frames) == 4 and unbroken:
            pictures = [one.pixels for one in frames]
            area = _torn(pictures, self._last[2][1].blobs, self._last[0][1].blobs)
            if area is not None:
                self.found.add(frame=frames[2].index, area=area)


def _torn(
    pictures: list[Pixels], seen: tuple[Blob, ...], earlier: tuple[Blob, ...]
) -> float | None:
    """Return the area that some region has in each half of the third of four pictures, or None
    where that is not torn; by what was seen in it and in the first.
    """
    least = _LARGE * max((blob.area_px for blob in seen), default=0.0)
    stayed, went = [], []
    for blob in seen:
        if blob.area_px < least:
            continue
        before, now, after = (_apart(a, b, blob) for a, b in pairwise(pictures))
        region = blob.x_px, blob.y_px, blob.area_px
        if now >= MOVES_GREY:
            went.append(region)
            continue
        stands = now < max(SAME_GREY, SAME_SHARE * before) and min(before, after) >= MOVES_GREY
        if stands and not _turned_round(pictures, blob, earlier):
            stayed.append(region)
    if not (stayed and went):
        return None
    old, new = np.array(stayed), np.array(went)
    low, high = (old.min(axis=0) > new.max(axis=0)), (old.max(axis=0) < new.min(axis=0))
    parted = bool((low | high)[:2].any())
    return float(min(old[:, 2].max(), new[:, 2].max())) if parted else None


def _turned_round(pictures: list[Pixels], blob: Blob, earlier: tuple[Blob, ...]) -> bool:
    """Return whether the last picture shows the same as the first where a region came from."""
    if not earlier:
        return False
    came = min(earlier, key=lambda one: np.hypot(one.x_px - blob.x_px, one.y_px - blob.y_px))
    return _apart(pictures[0], pictures[3], came) < MOVES_GREY


def _apart(one: Pixels, other: Pixels, blob: Blob) -> float:
    """Return the mean difference of two pictures where a region is, in grey."""
    x0, y0, x1, y1 = blob.box
    return float(np.abs(one[y0:y1, x0:x1].astype(np.int16) - other[y0:y1, x0:x1]).mean())
