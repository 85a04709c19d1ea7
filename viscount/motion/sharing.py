"""Regions that several parts share: which track may be in which blob without being linked to it."""

import numpy as np
from numpy.typing import NDArray

from viscount.motion.detections import Detections
from viscount.motion.prediction import Prediction
from viscount.motion.track import Track

Flags = NDArray[np.bool_]

SHARING = 0.2
"""A part may share a blob of no more than the reciprocal of this times its area."""
FOLLOWED = 3
"""So many sightings make a track that is lost a part that is somewhere."""
JOINED_OFF = 0.25
"""Parts that meet in one blob have its area together, to this share."""


def alone(
    tracks: list[Track], ahead: Prediction, pairs: list[tuple[int, int]], now: Detections
) -> Flags:
    """Return for each blob whether one part at most is thought to be in it.

    A track that lost its blob may be in the one that lies over its place; a speck's may not, nor
    one whose part was never seen whole: it may be that very part.
    """
    linked = {i for i, _ in pairs}
    unlinked = np.array(
        [i not in linked and any(s.whole for s in t.sights) for i, t in enumerate(tracks)],
        dtype=bool,
    )
    if not unlinked.any():
        return np.ones(len(now), dtype=bool)
    large = ahead.area[unlinked, None] > SHARING * now.area
    shared = np.any(ahead.covering[unlinked] & large, axis=0)
    return np.asarray(~shared)


def joined(
    tracks: list[Track], ahead: Prediction, pairs: list[tuple[int, int]], now: Detections
) -> Flags:
    """Return for each blob whether it is two lost parts or more, side by side.

    Parts that were followed for a while: what was hardly seen may be this very blob.
    """
    lost = np.array([len(track.sights) >= FOLLOWED for track in tracks], dtype=bool)
    lost[[i for i, _ in pairs]] = False
    # A speck beside a part makes no two.
    inside = ahead.covering & lost[:, None] & (ahead.area[:, None] > SHARING * now.area)
    together = (inside * ahead.area[:, None]).sum(axis=0)
    enough = np.abs(together - now.area) < JOINED_OFF * now.area
    return np.asarray((inside.sum(axis=0) >= 2) & enough)


def near_a_track(ahead: Prediction, now: Detections) -> Flags:
    """Return for each blob whether a part that it may have split from is here."""
    reach = 0.5 * ahead.length[:, None] + 2.0
    near_y = np.abs(now.y - ahead.y) < reach + 0.5 * now.length
    near_x = np.abs(now.x - ahead.x) < reach + 0.5 * (now.high - now.low)
    return np.asarray((near_y & near_x & (now.area < 1.5 * ahead.area[:, None])).any(axis=0))
