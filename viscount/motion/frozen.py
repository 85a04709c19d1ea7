"""Frames that show the picture of the frame before once more, under a new time.

Encoders change a repeated picture by a trace, so that it does not equal the one before. But
where most of what is seen was on its way, all of it stands still at once.
"""

import numpy as np
from numpy.typing import NDArray

from viscount.values import Blob, Sighting

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
        self._last: Places | None = None
        self._moving = False
        self._frozen = 0

    def is_frozen(self, seen: Sighting) -> bool:
        """Whether the sighting only repeats the one before."""
        places, last = _places(seen), self._last
        if last is not None:
            stepped = _nearest(places, last)
            still_px = np.clip(STILL_SIGMA * places[2], STILL_PX, MOST_STILL_PX)
            same = places.shape == last.shape and bool((stepped < still_px).all())
            if same and self._moving and self._frozen < LONGEST:
                self._frozen += 1
                return True
            # A stream whose parts lie as far apart as they move stands, but for its front.
            self._moving = bool(2 * (stepped > MOVED_PX).sum() > stepped.size)
        self._last, self._frozen = places, 0
        return False


def _places(seen: Sighting) -> Places:
    """Return where the large regions are, and with what sigma, (3, n)."""
    table = np.array([_row(blob) for blob in seen.blobs]).reshape(-1, 5).T
    large = table[4] > LARGE * table[4].max(initial=0.0)
    x, y, sigma_x, sigma_y = table[:4, large]
    return np.array([x, y, np.maximum(sigma_x, sigma_y)])


def _row(blob: Blob) -> tuple[float, ...]:
    return blob.x_px, blob.y_px, blob.sigma_x_px, blob.sigma_y_px, blob.area_px


def _nearest(places: Places, others: Places) -> NDArray[np.float64]:
    """Return for each place how far the nearest of the others is; inf where there is none."""
    x, y = (np.abs(places[axis, :, None] - others[axis]) for axis in (0, 1))
    return np.asarray(np.maximum(x, y).min(axis=1, initial=np.inf))
