"""Streams whose pattern nearly stands still: each part where the one before it was a frame ago.

Most ways to compress a film predict a picture from the one before, and leave out what is nearly
right. A pattern that moves on by the same few px each frame is then off by the same in every
picture, and each of its places by another amount: what one part shows of that, they all show.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]

REACH_PX = 8.0
"""The pattern stands nearly still where it moves on by no more than this: half a macroblock."""
STEADY_PX = 0.5
"""And by the same each frame to so much: a displacement of another size hides other detail."""
LEAST_LINKS = 3
"""Shorter rows of sightings are chance."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """All sightings of some parts, in order of time: times, places, and the parts' numbers."""

    t_s: Floats
    y_px: Floats
    part: Whole


def rows_of(seen: Seen, frame_s: float) -> Whole:
    """Return (n,) in which row of a standing pattern each sighting is; -1 for none.

    Parameters
    ----------
    frame_s : from frame to frame, > 0.
    """
    frame = np.rint((seen.t_s - seen.t_s.min()) / frame_s).astype(np.intp)
    first = np.searchsorted(frame, np.arange(int(frame.max()) + 2))
    row = np.arange(frame.size)
    shift = np.full(frame.size, np.nan)
    for k in np.flatnonzero(frame > 0):
        low, high = first[frame[k] - 1], first[frame[k]]
        if low == high:
            continue
        before = low + int(np.abs(seen.y_px[low:high] - seen.y_px[k]).argmin())
        moved = float(seen.y_px[k] - seen.y_px[before])
        if seen.part[before] == seen.part[k] or abs(moved) > REACH_PX:
            continue
        shift[k] = moved
        if not abs(moved - shift[before]) > STEADY_PX:
            row[k] = row[before]
    _, number, size = np.unique(row, return_inverse=True, return_counts=True)
    return np.where(size[number] > LEAST_LINKS, number, -1)
