"""Frames that show the picture of the frame before once more, under a new time.

Encoders change a repeated picture by a trace, so that it does not equal the one before. But
where most of what is seen was on its way, all of it stands still at once.
"""

from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from viscount.values import Sighting

Places = NDArray[np.float64]

STILL_PX, STILL_SIGMA, MOST_STILL_PX = 0.3, 4.0, 1.0
"""What moves by less than the first, or so many sigma of its place but no more than the last,
stands still from frame to frame."""
MOVED_PX = 3.0
"""What had moved by more than this the frame before, or was new, was on its way."""
LARGE = 0.3
"""Regions below this share of the largest come and go with the noise."""
LONGEST = 2
"""After so many frames on end parts have really stopped."""


class Frozen:
    """Compares each sighting with the two before."""

    def __init__(self) -> None:
        self._last: Sighting | None = None
        self._before: Sighting | None = None
        self._frozen = 0

    def is_frozen(self, seen: Sighting) -> bool:
        """Whether the sighting only repeats the one before."""
        if self._frozen < LONGEST and self._is_repeated(seen):
            self._frozen += 1
            return True
        self._before, self._last, self._frozen = self._last, seen, 0
        return False

    def _is_repeated(self, seen: Sighting) -> bool:
        if self._last is None or self._before is None or not _largest_stays(seen, self._last):
            return False
        places, last = _places(seen), _places(self._last)
        if places.shape != last.shape:
            return False
        still_px = np.clip(STILL_SIGMA * places[2], STILL_PX, MOST_STILL_PX)
        if not (_nearest(places, last) < still_px).all():
            return False
        # A stream whose parts lie as far apart as they move stands, but for its front.
        moved = _nearest(last, _places(self._before)) > MOVED_PX
        return bool(2 * moved.sum() > moved.size)


def _largest_stays(seen: Sighting, last: Sighting) -> bool:
    """Whether the largest region may stand still; it is asked first, of each frame of a stream."""
    if not seen.blobs:
        return False
    largest = max(seen.blobs, key=_area)
    x, y = largest.x_px, largest.y_px
    return any(
        abs(blob.y_px - y) < MOST_STILL_PX and abs(blob.x_px - x) < MOST_STILL_PX
        for blob in last.blobs
    )


def _places(seen: Sighting) -> Places:
    """Return where the large regions are, and with what sigma, (3, n)."""
    table = np.array([_measures(blob) for blob in seen.blobs]).reshape(-1, 5).T
    large = table[4] > LARGE * table[4].max(initial=0.0)
    x, y, sigma_x, sigma_y = table[:4, large]
    return np.array([x, y, np.maximum(sigma_x, sigma_y)])


_area = attrgetter("area_px")
_measures = attrgetter("x_px", "y_px", "sigma_x_px", "sigma_y_px", "area_px")


def _nearest(places: Places, others: Places) -> NDArray[np.float64]:
    """Return for each place how far the nearest of the others is; inf where there is none."""
    x, y = (np.abs(places[axis, :, None] - others[axis]) for axis in (0, 1))
    return np.asarray(np.maximum(x, y).min(axis=1, initial=np.inf))
