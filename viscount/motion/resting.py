"""Blobs that lie still: they are neither parts on their way nor a reason to wait."""

import numpy as np
from numpy.typing import NDArray

from viscount.motion.detections import Detections
from viscount.motion.sight import Sight
from viscount.motion.track import STILL_PX

Floats = NDArray[np.float64]

REST_S = 1.0
"""A blob that has kept its place for this long is at rest."""
AWAY_S = 0.1
"""A place that has been empty for this long starts anew."""
STILL_FRAMES = 12
"""What keeps its place for so many frames has stopped on its way."""
MOST_COMPARED = 2000
"""Sightings that are compared with each other; more are too many to stand still."""


class Resting:
    """Remembers where blobs stand still, and since when.

    The place is the one at which a blob was first met, so that a stream which shows the same
    picture in each frame drifts away from it, while a part at rest does not.
    """

    def __init__(self) -> None:
        # One column a place: y, x, since, last met (px, px, s, s).
        self._places: Floats = np.empty((4, 0))

    def mark(self, frame: Detections) -> NDArray[np.bool_]:
        """Return for each blob whether it has been at rest for `REST_S`."""
        known = self._places.compress(frame.t_s - self._places[3] < AWAY_S, axis=1)
        y, x, since, met = known
        near = np.abs(frame.y[:, None] - y) <= STILL_PX
        # What np.nonzero returns, in a third of its time.
        blob, place = np.divmod(np.flatnonzero(near), max(y.size, 1))
        same = np.abs(frame.x[blob] - x[place]) <= STILL_PX
        at_rest, y, x = np.zeros(len(frame), dtype=bool), frame.y, frame.x
        if same.any():  # In a stream there is hardly ever one.
            blob, place = blob[same], place[same]
            met[place] = frame.t_s
            at_rest[blob[frame.t_s - since[place] >= REST_S]] = True
            new = np.ones(len(frame), dtype=bool)
            new[blob] = False
            y, x = y[new], x[new]
        now = np.full(y.size, frame.t_s)
        self._places = np.concatenate([known, np.array([y, x, now, now])], axis=1)
        return at_rest


def moving(frames: list[Detections], below_px: float = np.inf) -> list[Detections]:
    """Return the frames without what keeps its place in them for `STILL_FRAMES` or more.

    Or creeps along; only of what has an area `below_px`.
    """
    places: list[NDArray[np.intp]] = []
    held: list[int] = []
    for now, before in zip(frames, [None, *frames[:-1]], strict=True):
        own = np.arange(len(now)) + len(held)
        held += [0] * len(now)
        if before is not None and len(before) and len(now):
            far = np.maximum(np.abs(now.y[:, None] - before.y), np.abs(now.x[:, None] - before.x))
            same = far.min(axis=1) <= STILL_PX
            own[same] = places[-1][far.argmin(axis=1)[same]]
        places.append(own)
        for place in own:
            held[place] += 1
    still_there = np.array(held) >= STILL_FRAMES
    pairs = zip(frames, places, strict=True)
    return [f.without(still_there[own] & (f.area < below_px)) for f, own in pairs]


def still(sights: list[Sight]) -> int:
    """Return how many sightings show something that stands where one stood a frame before."""
    return int(stands(sights, sights).sum())


def stands(
    sights: list[Sight], among: list[Sight], along_px: float = STILL_PX
) -> NDArray[np.bool_]:
    """Return for each sighting whether one of the others is at its place a frame before or after.

    Or no farther than `along_px` along the fall. Of more than can be compared, none.
    """
    if len(sights) * len(among) > MOST_COMPARED**2:
        return np.zeros(len(sights), dtype=bool)
    frame, y, x = (
        np.subtract.outer([getattr(s, of) for s in sights], [getattr(s, of) for s in among])
        for of in ("frame", "y", "x")
    )
    near = (np.abs(y) <= along_px) & (np.abs(x) <= STILL_PX)
    return np.asarray(np.any(near & (np.abs(frame) == 1), axis=1))
