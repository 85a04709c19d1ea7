"""One frame's blobs as arrays, turned into the direction of the fall."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from viscount.motion.geometry import Geometry
from viscount.values import Blob, Seeing, Sighting

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

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
    waist : (n,) see `viscount.values.Blob`; NaN where nobody looked.
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
    cut_tail: Flags
    cut_head: Flags
    cut_side: Flags

    def __len__(self) -> int:
        return self.y.size

    @cached_property
    def length(self) -> Floats:
        """(n,) extent along the fall in px."""
        return self.head - self.tail

    @cached_property
    def cut(self) -> Flags:
        """(n,) not whole along the fall."""
        return self.cut_tail | self.cut_head

    def completed(self, ahead: float, behind: float, sigma_end: float, area: float) -> "Detections":
        """Return the same frame with the centres of cut parts where the whole part's would be.

        A part cut by the border shows one end; its centre is as far from that as it usually
        is: `ahead` px from the downstream end, `behind` px from the upstream one. What is far
        below the usual `area` may be a corner of it only, beside its middle.
        """
        if not self.cut.any():
            return self
        entering = self.cut_tail & ~self.cut_head
        leaving = self.cut_head & ~self.cut_tail
        y = np.where(entering, self.head - np.maximum(ahead, 0.5 * self.length), self.y)
        y = np.where(leaving, self.tail + np.maximum(behind, 0.5 * self.length), y)
        end = max(sigma_end, OTHER_SHAPE * (ahead + behind))
        own = np.where(entering | leaving, end, 0.5 * self.length)
        var_y = np.where(self.cut, own**2 + CUT_SIGMA_PX**2, self.var_y)
        # A part at a slant shows more of itself to one side as it comes in.
        shown = self.high - self.low
        corner = self.area < CORNER_SHARE * area
        shown = np.where(corner, np.maximum(shown, ahead + behind), shown)
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
    *("area", "var_along", "var_across", "waist", "cut_tail", "cut_head", "cut_side"),
)


def detections(sighting: Sighting, geometry: Geometry, origin_ns: int) -> Detections:
    """Turn a sighting's blobs into arrays along and across the fall."""
    table = np.array([_row(blob) for blob in sighting.blobs], dtype=np.float64).reshape(-1, 12)
    x_px, y_px, sigma_x, sigma_y, area = table[:, :5].T
    ends = np.stack(
        [
            geometry.along(table[:, 5] - 0.5, table[:, 6] - 0.5),
            geometry.along(table[:, 7] - 0.5, table[:, 8] - 0.5),
        ]
    )
    sides = np.stack(
        [
            geometry.across(table[:, 5] - 0.5, table[:, 6] - 0.5),
            geometry.across(table[:, 7] - 0.5, table[:, 8] - 0.5),
        ]
    )
    tail, head = ends.min(axis=0), ends.max(axis=0)
    low_side, high_side = geometry.sides
    cut_side = (sides[0] <= low_side) | (sides[1] >= high_side)
    y = geometry.along(x_px, y_px)
    sigma_along, sigma_across = (
        (sigma_y, sigma_x) if geometry.falls.vertical else (sigma_x, sigma_y)
    )
    var_across, var_along = (
        (table[:, 9], table[:, 10]) if geometry.falls.vertical else (table[:, 10], table[:, 9])
    )
    t_s = (sighting.t_ns - origin_ns) * 1e-9
    x = geometry.across(x_px, y_px)
    order = np.lexsort((area, x, y))
    columns: dict[str, NDArray[np.generic]] = {
        "time_s": t_s + geometry.line_delay_s(x_px, y_px),
        "y": y,
        "x": x,
        "var_y": sigma_along**2,
        "var_x": sigma_across**2 + np.where(cut_side, SIDE_SIGMA_PX, 0.0) ** 2,
        "head": head,
        "tail": tail,
        "low": sides[0],
        "high": sides[1],
        "area": area,
        "var_along": var_along,
        "var_across": var_across,
        "waist": table[:, 11],
        "cut_tail": tail <= geometry.top,
        "cut_head": head >= geometry.bottom,
        "cut_side": cut_side,
    }
    return Detections(
        index=sighting.index,
        t_s=t_s,
        seeing=sighting.state is Seeing.SEEING,
        **{name: column[order] for name, column in columns.items()},  # type: ignore[arg-type]
    )


def _row(blob: Blob) -> tuple[float, ...]:
    return (
        blob.x_px,
        blob.y_px,
        blob.sigma_x_px,
        blob.sigma_y_px,
        blob.area_px,
        *(float(edge) for edge in blob.box),
        blob.moments[0],
        blob.moments[2],
        float("nan") if blob.waist is None else blob.waist,
    )
