"""What the detector's regions show: how large, how strong and how sharp parts are."""

import numpy as np
from numpy.typing import NDArray

from viscount.checking.series import Series
from viscount.measure.blur import edges
from viscount.motion.geometry import Geometry
from viscount.outlet import Box
from viscount.values import Blob, Frame, Sighting

_KEPT = 20_000
"""Regions that are kept in mind."""

_EDGED = 1_500
"""Regions whose edges are looked at."""

_MARGIN_PX = 3
"""Background around a region that is looked at with it."""

_LEAST_SIDE_PX = 4

_NEAR_PX, _LARGER = 16, 4.0
"""A region within two blocks of a codec from one so many times as large belongs to it."""


class Regions:
    """Watches the regions from frame to frame; keeps numbers, never frames.

    Parameters
    ----------
    level : float32 (H, W), the empty scene in the region that detectors are given.
    geometry : direction of the fall, and where that region lies in the picture.
    lamp : (x0, y0, x1, y1) in the picture, half-open: a signal lamp, which is no part.

    Attributes
    ----------
    level : the empty scene.
    whole : columns frame, t_s, x, y, area, along and across in px, of regions that are neither cut
        by the border nor beside a larger one: those are its pieces, or traces of compression.
    sharp : columns area, side (length of the sides' edges in px, NaN where unknown) and
        contrast in grey.
    ends : columns t_s, x, y (in the picture), area and length, of leading and trailing edges.
    longest : column px, the longest region along the fall in each frame that shows any.
    reaching : columns frame, area and across, of regions that a side of the view cuts.
    contrasts : column grey, the least step that the detector would see.
    """

    def __init__(
        self, level: NDArray[np.float32], geometry: Geometry, lamp: Box | None = None
    ) -> None:
        self.level = level
        self._falls = geometry.falls
        self._left, self._top = geometry.view[:2]
        self._lamp = None if lamp is None else _moved(lamp, -self._left, -self._top)
        self.whole = Series("frame", "t_s", "x", "y", "area", "along", "across", most=_KEPT)
        self.sharp = Series("area", "side", "contrast", most=_EDGED)
        self.ends = Series("t_s", "x", "y", "area", "length", most=2 * _EDGED)
        self.longest = Series("px")
        self.reaching = Series("frame", "area", "across", most=_KEPT)
        self.contrasts = Series("grey")

    def add(self, frame: Frame, seen: Sighting, light: float) -> None:
        """Look at one frame's regions; `light` is the frame's, relative to the empty scene's."""
        if seen.detectable_contrast is not None:
            self.contrasts.add(grey=seen.detectable_contrast)
        if self._lamp is not None:
            blobs = tuple(blob for blob in seen.blobs if not _inside(blob, self._lamp))
        else:
            blobs = seen.blobs
        if blobs:
            self.longest.add(px=max(self._length(blob) for blob in blobs))
        for blob, beside in zip(blobs, _beside_larger(blobs), strict=True):
            x0, y0, x1, y1 = blob.box
            high, wide = y1 - y0, x1 - x0
            along, across = (high, wide) if self._falls.vertical else (wide, high)
            if self._cut_at_side(blob, frame):
                self.reaching.add(frame=frame.index, area=blob.area_px, across=across)
            if not (blob.cut_by_edge or beside):
                self.whole.add(
                    frame=frame.index,
                    t_s=frame.t_ns * 1e-9,
                    x=blob.x_px + self._left,
                    y=blob.y_px + self._top,
                    area=blob.area_px,
                    along=along,
                    across=across,
                )
            if not self.sharp.full and min(high, wide) >= _LEAST_SIDE_PX:
                self._look_at_edges(frame, blob, light)

    def _cut_at_side(self, blob: Blob, frame: Frame) -> bool:
        x0, y0, x1, y1 = blob.box
        height, width = frame.pixels.shape
        return x0 == 0 or x1 == width if self._falls.vertical else y0 == 0 or y1 == height

    def _length(self, blob: Blob) -> int:
        x0, y0, x1, y1 = blob.box
        return y1 - y0 if self._falls.vertical else x1 - x0

    def _look_at_edges(self, frame: Frame, blob: Blob, light: float) -> None:
        height, width = frame.pixels.shape
        x0, y0, x1, y1 = blob.box
        top, left = max(y0 - _MARGIN_PX, 0), max(x0 - _MARGIN_PX, 0)
        place = (slice(top, y1 + _MARGIN_PX), slice(left, x1 + _MARGIN_PX))
        empty = self.level[place].astype(np.float64) * light
        difference = np.abs(frame.pixels[place] - empty)
        free = (y0 > 0, x0 > 0, y1 < height, x1 < width)
        above, before, below, after = free
        if not self._falls.vertical:
            difference = difference.T
            above, before, below, after = before, above, after, below
        trail, lead = (above, below) if self._falls.sign > 0 else (below, above)
        if self._falls.sign < 0:
            difference = difference[::-1]
        found = edges(difference, lead=lead, trail=trail, sides=before and after)
        if found is None:
            return
        side = np.nan if found.side_px is None else found.side_px
        self.sharp.add(area=blob.area_px, side=side, contrast=found.contrast)
        for length, leads in ((found.lead_px, True), (found.trail_px, False)):
            if length is not None:
                x, y = self._end(blob, leads=leads)
                self.ends.add(t_s=frame.t_ns * 1e-9, x=x, y=y, area=blob.area_px, length=length)

    def _end(self, blob: Blob, *, leads: bool) -> tuple[float, float]:
        """Return where in the picture the blob's leading or trailing end is."""
        x0, y0, x1, y1 = blob.box
        far = leads == (self._falls.sign > 0)
        x, y = blob.x_px, blob.y_px
        if self._falls.vertical:
            y = y1 - 0.5 if far else y0 - 0.5
        else:
            x = x1 - 0.5 if far else x0 - 0.5
        return x + self._left, y + self._top


def _moved(box: Box, dx: int, dy: int) -> Box:
    return box[0] + dx, box[1] + dy, box[2] + dx, box[3] + dy


def _inside(blob: Blob, box: Box) -> bool:
    x0, y0, x1, y1 = box
    return x0 <= blob.x_px < x1 and y0 <= blob.y_px < y1


def _beside_larger(blobs: tuple[Blob, ...]) -> NDArray[np.bool_]:
    """Return for each blob whether one several times as large is near it."""
    boxes = np.array([blob.box for blob in blobs], dtype=np.float64).reshape(-1, 4)
    areas = np.array([blob.area_px for blob in blobs])
    left, top, right, bottom = (boxes[:, side] for side in range(4))
    across = np.maximum(left[:, None] - right, left - right[:, None])
    down = np.maximum(top[:, None] - bottom, top - bottom[:, None])
    near = np.maximum(across, down) <= _NEAR_PX
    return np.asarray((near & (areas >= _LARGER * areas[:, None])).any(axis=1))
