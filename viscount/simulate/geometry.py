"""From mm along and across the fall to px, and the moment at which each line is exposed.

Pictures are drawn upright, with the fall downwards along the rows, and turned into the view's
own direction at the end. `along_px` counts upright rows, `across_px` upright columns.
"""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.scene import Scene
from viscount.values import Falls, Marks

Array = NDArray[np.float64]
ScalarT = TypeVar("ScalarT", bound=np.generic)


@dataclass(frozen=True, slots=True)
class Upright:
    """The view turned so that parts fall down.

    Attributes
    ----------
    rows, columns : its size in px.
    scale : px per mm.
    lip, centre : upright row of the lip, upright column of the middle lane.
    line_s_per_row, line_s_per_column : how much later each further line is exposed.
    first_line_s : delay of upright pixel (0, 0) after the first exposed line.
    marked_s : from a frame's time to the middle of its first line's exposure.
    exposure_s : exposure time of a line.
    """

    falls: Falls
    rows: int
    columns: int
    scale: float
    lip: float
    centre: float
    line_s_per_row: float
    line_s_per_column: float
    first_line_s: float
    marked_s: float
    exposure_s: float

    def delay(self, row: Array | float, column: Array | float) -> Array:
        """Return how long after the frame's time the middle of this place's exposure is."""
        across = self.first_line_s + self.line_s_per_column * np.asarray(column)
        return self.marked_s + self.line_s_per_row * np.asarray(row) + across

    def row(self, along_mm: Array) -> Array:
        """Return the upright row of a place along the fall."""
        return self.lip + self.scale * along_mm

    def column(self, across_mm: Array) -> Array:
        """Return the upright column of a place across the fall."""
        return self.centre + self.scale * across_mm

    def along_mm(self, along_px: float) -> float:
        """Return mm below the lip of an image coordinate along the fall."""
        return (self.along_row(along_px) - self.lip) / self.scale

    def along_row(self, along_px: Array | float) -> float:
        """Turn an image coordinate along the fall into an upright row, or back."""
        flipped = self.falls.sign < 0
        return float((self.rows - 1 - along_px) if flipped else along_px)

    def image(self, row: Array, column: Array) -> tuple[Array, Array]:
        """Return image (x, y) of upright places."""
        along = self.rows - 1 - row if self.falls.sign < 0 else row
        return (column, along) if self.falls.vertical else (along, column)

    def turned(self, upright: NDArray[ScalarT]) -> NDArray[ScalarT]:
        """Turn an upright picture into the view's own direction."""
        picture = upright[::-1] if self.falls.sign < 0 else upright
        return np.ascontiguousarray(picture if self.falls.vertical else picture.T)


def upright(scene: Scene) -> Upright:
    """Return the view of `scene` turned upright."""
    view, camera = scene.view, scene.camera
    vertical, flipped = view.falls.vertical, view.falls.sign < 0
    rows, columns = view.height_px, view.width_px
    if not vertical:
        rows, columns = columns, rows
    lip = rows - 1 - view.lip_px if flipped else view.lip_px
    centre = (columns - 1) / 2 if view.centre_px is None else view.centre_px
    per_row = per_column = first = 0.0
    if camera.readout != "global":
        readout = Falls(camera.readout)
        line_s = camera.line_time_us * 1e-6
        along = readout.vertical is vertical
        forward = readout.sign == (view.falls.sign if along else 1)
        per_line = line_s if forward else -line_s
        first = 0.0 if forward else line_s * ((rows if along else columns) - 1)
        per_row, per_column = (per_line, 0.0) if along else (0.0, per_line)
    exposure = camera.exposure_us * 1e-6
    middle = {Marks.START: 0.5, Marks.MIDDLE: 0.0, Marks.END: -0.5}[camera.marks]
    return Upright(
        falls=view.falls,
        rows=rows,
        columns=columns,
        scale=view.scale_px_per_mm,
        lip=lip,
        centre=centre,
        line_s_per_row=per_row,
        line_s_per_column=per_column,
        first_line_s=first,
        marked_s=middle * exposure,
        exposure_s=exposure,
    )
