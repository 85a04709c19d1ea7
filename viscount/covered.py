"""A box of the picture that nobody looks at: a signal lamp, which changes and is no part."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from viscount.values import Blob, Frame, Sighting

Box = tuple[int, int, int, int]
"""(x0, y0, x1, y1), half-open."""

GLOW_PX = 3
"""A lamp's light reaches this far beyond its box."""


class Covered:
    """Covers a box with the pixels that it had first, and drops what is seen within it.

    A part that passes the box is cut by it; such a box belongs beside the stream.
    """

    def __init__(self, box: Box) -> None:
        self._box = box
        self._first: NDArray[np.uint8] | None = None

    def cover(self, frame: Frame) -> Frame:
        """Return the frame with the box as it was in the first one."""
        x0, y0, x1, y1 = self._box
        if self._first is None:
            self._first = frame.pixels[y0:y1, x0:x1].copy()
        pixels = frame.pixels.copy()
        pixels[y0:y1, x0:x1] = self._first
        pixels.setflags(write=False)
        return replace(frame, pixels=pixels)

    def without(self, sighting: Sighting) -> Sighting:
        """Return a sighting of the whole picture without what lies within the box."""
        blobs = tuple(blob for blob in sighting.blobs if not self._holds(blob))
        return sighting if len(blobs) == len(sighting.blobs) else replace(sighting, blobs=blobs)

    def _holds(self, blob: Blob) -> bool:
        x0, y0, x1, y1 = self._box
        left, top, right, bottom = blob.box
        return (
            left >= x0 - GLOW_PX
            and top >= y0 - GLOW_PX
            and right <= x1 + GLOW_PX
            and bottom <= y1 + GLOW_PX
        )
