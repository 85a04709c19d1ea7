"""Frames that show the picture of the frame before once more, under a new time.

Encoders change a repeated picture by a trace, so that it does not equal the one before. But
where most of what is seen was on its way, all of it stands still at once.
"""

import numpy as np
from numpy.typing import NDArray

from viscount.values import Sighting

Places = NDArray[np.float64]

STILL_PX = 0.3
"""What moves by less than this from frame to frame stands still."""
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
            same = len(places) == len(last) and bool((stepped < STILL_PX).all())
            if same and self._moving and self._frozen < LONGEST:
                self._frozen += 1
                return True
            # A stream whose parts lie as far apart as they move stands, but for its front.
            self._moving = bool(2 * (stepped > MOVED_PX).sum() > len(places))
        self._last, self._frozen = places, 0
        return False


def _places(seen: Sighting) -> Places:
    """Return where the large regions are, (n, 2)."""
    table = np.array([(b.x_px, b.y_px, b.area_px) for b in seen.blobs]).reshape(-1, 3)
    large = table[:, 2] > LARGE * table[:, 2].max(initial=0.0)
    return np.asarray(table[large, :2])


def _nearest(places: Places, others: Places) -> NDArray[np.float64]:
    """Return for each place how far the nearest of the others is; inf where there is none."""
    apart = np.abs(places[:, None, :] - others[None, :, :]).max(axis=2)
    return np.asarray(apart.min(axis=1, initial=np.inf))
