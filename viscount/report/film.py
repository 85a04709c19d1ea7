"""Cutting a strip's pictures out of the bands, at the speed with which parts passed."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from viscount.report.bands import Bands
from viscount.report.layout import Piece, Placed
from viscount.report.motion import Motion

Pixels = NDArray[np.uint8]
Seen = NDArray[np.bool_]

_CLEAR_GREYS = 14
"""A difference from the background that is no noise."""
_BLOCK = 4096
_WIDENED = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """What passed the line during one piece.

    Attributes
    ----------
    grey : uint8, (H, W).
    seen : (W,) whether a frame saw it.
    top_px : image coordinate across the fall of the picture's upper border.
    scale : px of the page for each px of the image.
    """

    grey: Pixels
    seen: Seen
    top_px: float = 0.0
    scale: float = 1.0

    def y_px(self, across_px: float) -> float:
        """Return where an image coordinate across the fall is in the picture."""
        return (across_px - self.top_px) * self.scale


class Film:
    """Cuts pictures out of bands.

    Parameters
    ----------
    bands : what was kept of each frame.
    motion : how fast things passed.
    rate : kept pixels along the fall for each second.
    """

    def __init__(self, bands: Bands, motion: Motion, rate: float) -> None:
        self._bands = bands
        self._motion = motion
        self._rate = rate
        self._usual = bands.background().astype(np.int16)[:, None]

    def pictures(self, placed: Sequence[Placed], zoom: float) -> list[Picture]:
        """Return each piece's picture at its own width, all equally high.

        `zoom` is px of the page for each kept pixel. What never changes on either side of the
        fall is left out.
        """
        raw = [self._raw(one.piece) for one in placed]
        first, last = self._busy(raw)
        height = max(round((last - first) * zoom), 1)
        step = self._bands.step
        top_px = self._bands.side_px + first * step
        made = []
        for one, (pixels, seen) in zip(placed, raw, strict=True):
            grey, there = _resized(pixels[first:last], seen, one.piece.width_px, height, zoom)
            made.append(Picture(grey=grey, seen=there, top_px=top_px, scale=zoom / step))
        return made

    def _raw(self, piece: Piece) -> tuple[Pixels, Seen]:
        """Return a piece's picture, (across, n), as it was kept, and which columns are seen."""
        length_s = piece.end_s - piece.start_s
        natural = max(round(length_s * self._rate), 1)
        count = min(natural, piece.width_px) if piece.quiet else natural
        edges = np.linspace(0, natural, count + 1).round().astype(int)
        pixels: list[Pixels] = []
        seen: list[Seen] = []
        column = 0
        while column < count:
            # A few thousand at a time, so that a long quiet time takes little memory.
            until = int(np.searchsorted(edges, edges[column] + _BLOCK, "right")) - 1
            until = max(until, column + 1)
            middles = np.arange(edges[column], edges[until]) + 0.5
            at_s = piece.start_s + middles * length_s / natural
            some, there = self._columns(at_s)
            starts = edges[column:until] - edges[column]
            pixels.append(self._most_unusual(some, starts))
            seen.append(np.logical_and.reduceat(there, starts))
            column = until
        return np.concatenate(pixels, axis=1), np.concatenate(seen)

    def _columns(self, at_s: NDArray[np.float64]) -> tuple[Pixels, Seen]:
        if self._motion.usual_px_s > 0:
            return self._bands.columns(at_s, self._motion)
        return self._bands.nearest(at_s, self._usual[:, 0].astype(np.uint8))

    def _most_unusual(self, columns: Pixels, starts: NDArray[np.int_]) -> Pixels:
        """Draw columns together: of each group the value furthest from the background.

        Whatever passes in a stretch that is drawn together still leaves its mark, and a thin
        mark is widened so that it catches the eye.
        """
        if starts.size == columns.shape[1]:
            return columns
        off = columns.astype(np.int16) - self._usual
        wide = np.ones((1, _WIDENED), np.uint8)
        dark = cv2.erode(np.minimum.reduceat(off, starts, axis=1), wide)
        bright = cv2.dilate(np.maximum.reduceat(off, starts, axis=1), wide)
        return (np.where(-dark > bright, dark, bright) + self._usual).astype(np.uint8)

    def _busy(self, raw: Sequence[tuple[Pixels, Seen]]) -> tuple[int, int]:
        """Return from where to where, across the fall, anything ever changes."""
        size = self._usual.size
        changes = np.zeros(size, dtype=bool)
        for pixels, seen in raw:
            off = np.abs(pixels[:, seen].astype(np.int16) - self._usual)
            changes |= (off > _CLEAR_GREYS).any(axis=1)
        rows = np.flatnonzero(changes)
        if not rows.size:
            return 0, size
        margin = max(size // 12, 3)
        return max(int(rows[0]) - margin, 0), min(int(rows[-1]) + 1 + margin, size)


def _resized(
    pixels: Pixels, seen: Seen, width: int, height: int, zoom: float
) -> tuple[Pixels, Seen]:
    way = cv2.INTER_AREA if zoom < 1 else cv2.INTER_CUBIC
    grey = cv2.resize(np.ascontiguousarray(pixels), (width, height), interpolation=way)
    columns = (np.arange(width) * seen.size) // width
    return np.asarray(grey, dtype=np.uint8), seen[columns]
