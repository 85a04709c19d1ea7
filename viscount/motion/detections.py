"""One frame's blobs as arrays, turned into the direction of the fall."""

from dataclasses import dataclass, replace
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from viscount.motion.geometry import Geometry
from viscount.motion.once import Once
from viscount.values import Blob, Seeing, Sighting

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Row = tuple[float, float, float, float, float, float, bool, bool, float, float, float, float]
"""Time, place across and its variance, length, distance from the centre to the upstream end, area,
whether it is whole and whether it is cut at a side, second moments along and across, waist, and
number of bores."""

CUT_SIGMA_PX = 2.0
"""Least uncertainty of a centre whose part is not whole in the view."""
OTHER_SHAPE = 0.15
"""Least uncertainty of where a cut part ends, as a share of the usual length: this one may be
another, or two."""
CUT_SIDEWAYS = 0.25
"""Uncertainty across the fall of a part that is not whole, as a share of the width shown."""
CORNER_SHARE = 0.25
"""What a border cuts and is below this share of a part's area may be a corner of one."""
SIDE_SIGMA_PX = 3.0
"""Added across the fall where a part sticks out of the view sideways."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Detections:
    """The blobs of one frame; n of them in every array, ordered along the fall.

    Attributes
    ----------
    index : the frame's index.
    t_s : the frame's time, s after the origin.
    seeing : whether the detector could see at all.
    time_s : (n,) time at which the line of each centre was exposed.
    y, x : (n,) centre, px along the fall from the line, and across it.
    var_y, var_x : (n,) variance of the centre in px².
    head, tail : (n,) downstream and upstream end, px along the fall from the line.
    area : (n,) px.
    var_along, var_across : (n,) second central moments of the region along and across the fall,
        in px²: how far it reaches, weighted by what it covers.
    waist, bores : (n,) see `viscount.values.Blob`; NaN where nobody looked.
    low, high : (n,) extent across the fall, image coordinates.
    cut_tail, cut_head : (n,) touches the border of the view upstream, or downstream.
    cut_side : (n,) touches a border across the fall.
    """

    index: int
    t_s: float
    seeing: bool
    time_s: Floats
    y: Floats
    x: Floats
    var_y: Floats
    var_x: Floats
    head: Floats
    tail: Floats
    low: Floats
    high: Floats
    area: Floats
    var_along: Floats
    var_across: Floats
    waist: Floats
    bores: Floats
    cut_tail: Flags
    cut_head: Flags
    cut_side: Flags

    def __len__(self) -> int:
        return self.y.size

    @Once
    def length(self) -> Floats:
        """(n,) extent along the fall in px."""
        return self.head - self.tail

    @Once
    def cut(self) -> Flags:
        """(n,) not whole along the fall."""
        return self.cut_tail | self.cut_head

    @Once
    def breadth(self) -> Floats:
        """(n,) extent across the fall in px."""
        return self.high - self.low

    @Once
    def rows(self) -> list[Row]:
        """What a sighting takes from each blob, but for its place along the fall."""
        columns = (
            *(self.time_s, self.x, self.var_x, self.length, self.y - self.tail, self.area),
            *(~self.cut, self.cut_side, self.var_along, self.var_across),
            *(self.waist, self.bores),
        )
        return list(zip(*(column.tolist() for column in columns), strict=True))

    def completed(
        self, ahead: float, behind: float, sigma_end: float, area: float, longest: float
    ) -> "Detections":
        """Return the same frame with the centres of cut parts where the whole part's would be.

        A part cut by the border shows one end; its centre is as far from that as it usually
        is: `ahead` px from the downstream end, `behind` px from the upstream one. What is far
        below the usual `area` may be a corner of it only, beside its middle: part of what is
        `longest` px broad.
        """
        if not self.cut.any():
            return self
        half = 0.5 * self.length
        entering = self.cut_tail & ~self.cut_head
        leaving = self.cut_head & ~self.cut_tail
        y = np.where(entering, self.head - np.maximum(ahead, half), self.y)
        y = np.where(leaving, self.tail + np.maximum(behind, half), y)
        end = max(sigma_end, OTHER_SHAPE * (ahead + behind))
        own = np.where(entering | leaving, end, half)
        var_y = np.where(self.cut, own**2 + CUT_SIGMA_PX**2, self.var_y)
        # A part at a slant shows more of itself to one side as it comes in.
        corner = self.area < CORNER_SHARE * area
        shown = np.maximum(self.breadth, np.where(corner, longest, 0.0))
        sideways = np.where(self.cut, CUT_SIDEWAYS * shown, 0.0)
        return replace(self, y=y, var_y=var_y, var_x=self.var_x + sideways**2)

    def moved(self, dy: Floats, dx: Floats, var_y: Floats, var_x: Floats) -> "Detections":
        """Return the same frame with its blobs moved back by `dy`, `dx` (n,), less sure by that.

        What a border cuts still ends there.
        """
        return replace(
            self,
            y=self.y - dy,
            x=self.x - dx,
            head=self.head - dy,
            tail=self.tail - dy,
            low=self.low - dx,
            high=self.high - dx,
            var_y=self.var_y + var_y,
            var_x=self.var_x + var_x,
        )

    def without(self, drop: Flags) -> "Detections":
        """Return the same frame without the blobs marked in `drop`."""
        keep = ~drop
        arrays = {name: getattr(self, name)[keep] for name in _ARRAYS}
        return Detections(index=self.index, t_s=self.t_s, seeing=self.seeing, **arrays)


_ARRAYS = (
    *("time_s", "y", "x", "var_y", "var_x", "head", "tail", "low", "high"),
    *("area", "var_along", "var_across", "waist", "bores", "cut_tail", "cut_head", "cut_side"),
)


def detections(sighting: Sighting, geometry: Geometry, origin_ns: int) -> Detections:
    """Turn a sighting's blobs into arrays along and across the fall."""
    table = np.array([_row(blob) for blob in sighting.blobs], dtype=np.float64).reshape(-1, 13).T
    x_px, y_px, area = table[0], table[1], table[4]
    order = np.lexsort((area, geometry.across(x_px, y_px), geometry.along(x_px, y_px)))
    x_px, y_px, sigma_x, sigma_y, area, x0, y0, x1, y1, var_x, var_y, waist, bores = table[:, order]
    edges = (x0 - 0.5, y0 - 0.5), (x1 - 0.5, y1 - 0.5)
    ends = [geometry.along(*edge) for edge in edges]
    low, high = (geometry.across(*edge) for edge in edges)
    tail, head = np.minimum(*ends), np.maximum(*ends)
    low_side, high_side = geometry.sides
    cut_side = (low <= low_side) | (high >= high_side)
    if geometry.falls.vertical:
        sigma_along, sigma_across, var_along, var_across = sigma_y, sigma_x, var_y, var_x
    else:
        sigma_along, sigma_across, var_along, var_across = sigma_x, sigma_y, var_x, var_y
    t_s = (sighting.t_ns - origin_ns) * 1e-9
    return Detections(
        index=sighting.index,
        t_s=t_s,
        seeing=sighting.state is Seeing.SEEING,
        time_s=t_s + geometry.line_delay_s(x_px, y_px),
        y=geometry.along(x_px, y_px),
        x=geometry.across(x_px, y_px),
        var_y=sigma_along**2,
        var_x=sigma_across**2 + np.where(cut_side, SIDE_SIGMA_PX, 0.0) ** 2,
        head=head,
        tail=tail,
        low=low,
        high=high,
        area=area,
        var_along=var_along,
        var_across=var_across,
        waist=waist,
        bores=bores,
        cut_tail=tail <= geometry.top,
        cut_head=head >= geometry.bottom,
        cut_side=cut_side,
    )


def _row(blob: Blob) -> tuple[float | None, ...]:
    x_px, y_px, sigma_x, sigma_y, area, box, (var_x, _, var_y), waist, bores = _MEASURES(blob)
    # What is None becomes NaN.
    return x_px, y_px, sigma_x, sigma_y, area, *box, var_x, var_y, waist, bores


_MEASURES = attrgetter(
    *("x_px", "y_px", "sigma_x_px", "sigma_y_px", "area_px", "box", "moments", "waist", "bores")
)
