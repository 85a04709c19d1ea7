"""Regions that several parts share: which track may be in which blob without being linked to it."""

import numpy as np
from numpy.typing import NDArray

from viscount.motion.detections import Detections
from viscount.motion.prediction import Prediction
from viscount.motion.track import Track

Flags = NDArray[np.bool_]

SHARING = 0.2
"""A part may share a blob of no more than the reciprocal of this times its area."""
OUTGROWN = 1.6
"""What was so many times as large as a region is not hidden in it."""
FOLLOWED = 3
"""So many sightings make a track that is lost a part that is somewhere."""
JOINED_OFF = 0.25
"""Parts that meet in one blob have its area together, to this share."""


def alone(tracks: list[Track], ahead: Prediction, lost: list[int], now: Detections) -> Flags:
    """Return for each blob whether one part at most is thought to be in it.

    One of the `lost` tracks, which have no blob of their own, may be in the one that lies over its
    place; a speck's may not, nor one whose part was never seen whole: it may be that very part.
    Nor what was seen once only, far larger than the region: it came apart into this and others.
    """
    hidden = [i for i in lost if ahead.covered[i] and any(s.whole for s in tracks[i].sights)]
    if not hidden:
        return np.ones(len(now), dtype=bool)
    area = ahead.area[hidden, None]
    followed = np.array([len(tracks[i].sights) > 1 for i in hidden])[:, None]
    fits = (area > SHARING * now.area) & (followed | (area < OUTGROWN * now.area))
    return np.asarray(~np.any(ahead.covering[hidden] & fits, axis=0))


def joined(tracks: list[Track], ahead: Prediction, lost: list[int], now: Detections) -> Flags:
    """Return for each blob whether it is two lost parts or more, side by side.

    Parts that were followed for a while: what was hardly seen may be this very blob.
    """
    hidden = [i for i in lost if ahead.covered[i] and len(tracks[i].sights) >= FOLLOWED]
    if len(hidden) < 2:
        return np.zeros(len(now), dtype=bool)
    area = ahead.area[hidden, None]
    # A speck beside a part makes no two.
    inside = ahead.covering[hidden] & (area > SHARING * now.area)
    together = (inside * area).sum(axis=0)
    enough = np.abs(together - now.area) < JOINED_OFF * now.area
    return np.asarray((inside.sum(axis=0) >= 2) & enough)


def near_a_track(ahead: Prediction, now: Detections) -> Flags:
    """Return for each blob whether a part that it may have split from is here."""
    reach = 0.5 * ahead.length[:, None] + 2.0
    near_y = np.abs(now.y - ahead.y) < reach + 0.5 * now.length
    near_x = np.abs(now.x - ahead.x) < reach + 0.5 * now.breadth
    return np.asarray((near_y & near_x & (now.area < 1.5 * ahead.area[:, None])).any(axis=0))
