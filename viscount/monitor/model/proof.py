"""Small pictures: of the latest frames, and of the frames about doubtful places."""

from collections import OrderedDict, deque
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]

LATEST_BYTES: Final = 48 << 20
LATEST_S: Final = 20.0
"""As far as they fit: what a pour's pairing doubts is known when the pour is over."""
KEPT: Final = 60
MOST_PICTURES: Final = 24
"""Of one doubt; where more frames show it they are taken evenly."""
LARGEST_PX: Final = 240
AROUND_S: Final = 0.012
"""Before the first frame and after the last, so that one without the part is shown too."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Small:
    """One small picture.

    Attributes
    ----------
    index, t_s : of its frame.
    scale : its px for each px of the picture.
    """

    index: int
    t_s: float
    scale: float
    pixels: Pixels


def small(pixels: Pixels, *, index: int, t_s: float, shrunk: int = 1) -> Small:
    """Return a picture at a size that many can be kept of."""
    height, width = pixels.shape
    factor = min(LARGEST_PX / max(height, width), 1.0)
    made = pixels
    if factor < 1.0:
        size = max(round(width * factor), 1), max(round(height * factor), 1)
        made = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    return Small(index=index, t_s=t_s, scale=factor / shrunk, pixels=made)


class Proofs:
    """Keeps the latest small pictures, and those that belong to doubts.

    Parameters
    ----------
    latest_bytes : how much memory the latest may take.
    """

    def __init__(self, latest_bytes: int = LATEST_BYTES) -> None:
        self._limit = latest_bytes
        self._latest: deque[Small] = deque()
        self._bytes = 0
        self._kept: OrderedDict[int, tuple[Small, ...]] = OrderedDict()

    @property
    def nbytes(self) -> int:
        """Memory of all pictures."""
        kept = {id(one): one.pixels.nbytes for many in self._kept.values() for one in many}
        latest = {id(one): one.pixels.nbytes for one in self._latest}
        return sum((kept | latest).values())

    def add(self, one: Small) -> None:
        """Take the next frame's picture."""
        self._latest.append(one)
        self._bytes += one.pixels.nbytes
        while self._bytes > self._limit or one.t_s - self._latest[0].t_s > LATEST_S:
            self._bytes -= self._latest.popleft().pixels.nbytes

    def keep(self, number: int, start_s: float, end_s: float) -> None:
        """Keep for a doubt what the latest frames show of a stretch of time."""
        found = [s for s in self._latest if start_s - AROUND_S <= s.t_s <= end_s + AROUND_S]
        if not found:
            return
        self._kept[number] = tuple(evenly(found))
        while len(self._kept) > KEPT:
            self._kept.popitem(last=False)

    def of(self, number: int) -> tuple[Small, ...]:
        """Return the pictures kept for a doubt, oldest first."""
        return self._kept.get(number, ())


def evenly(found: list[Small], most: int = MOST_PICTURES) -> list[Small]:
    """Return at most so many of them, evenly spread, the first and the last among them."""
    if len(found) <= most:
        return found
    return [found[k] for k in np.linspace(0, len(found) - 1, most).round().astype(int)]
