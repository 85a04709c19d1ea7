"""From mm along and across the fall to px, and the moment at which each line is exposed.

Pictures are drawn upright, with the fall downwards along the rows, and turned into the view's
own direction at the end. `along_px` counts upright rows, `across_px` upright columns. Places in
the world are (along, across, depth) in mm: below the lip, from the middle lane, and from the
plane of the lanes towards the camera.
"""

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.scene import Scene, Surroundings
from viscount.simulate.shake import shakes, shift_px
from viscount.values import Falls, Marks

Array = NDArray[np.float64]
ScalarT = TypeVar("ScalarT", bound=np.generic)


@dataclass(frozen=True, slots=True, eq=False)
class Upright:
    """The view turned so that parts fall down.

    Attributes
    ----------
    rows, columns : its size in px.
    scale : px per mm in the middle of the picture.
    lip : upright row of the lip in the middle column. middle_along : mm below the lip of the
        middle row.
    centre : upright column of the middle lane.
    distance : mm from the middle of the view to the camera; inf from afar.
    turn : (3, 3), what the camera's nod and roll make of directions in the world.
    line_s_per_row, line_s_per_column : how much later each further line is exposed.
    first_line_s : delay of upright pixel (0, 0) after the first exposed line.
    marked_s : from a frame's time to the middle of its first line's exposure.
    exposure_s : exposure time of a line.
    straight : whether the camera looks from afar, straight at the fall.
    surroundings : what may shake it.
    """

    falls: Falls
    rows: int
    columns: int
    scale: float
    lip: float
    middle_along: float
    centre: float
    distance: float
    turn: Array
    line_s_per_row: float
    line_s_per_column: float
    first_line_s: float
    marked_s: float
    exposure_s: float
    straight: bool
    surroundings: Surroundings

    def delay(self, row: Array | float, column: Array | float) -> Array:
        """Return how long after the frame's time the middle of this place's exposure is."""
        across = self.first_line_s + self.line_s_per_column * np.asarray(column)
        return self.marked_s + self.line_s_per_row * np.asarray(row) + across

    def place(
        self,
        along_mm: Array | float,
        across_mm: Array | float,
        depth_mm: Array | float = 0.0,
        t_s: Array | float | None = None,
    ) -> tuple[Array, Array]:
        """Return upright row and column of places in the world.

        With `t_s` as the camera, shaken, sees them at those times; without as it would at rest.
        """
        world = (
            np.asarray(along_mm, dtype=np.float64) - self.middle_along,
            np.asarray(across_mm, dtype=np.float64),
            np.asarray(depth_mm, dtype=np.float64),
        )
        if self.straight:
            row = (self.rows - 1) / 2 + self.scale * world[0]
            column = self.centre + self.scale * world[1]
            return self._shaken(row, column, t_s)
        down, beside, nearer = (
            sum(t * w for t, w in zip(r, world, strict=True)) for r in self.turn
        )
        scale = self.scale if math.isinf(self.distance) else self._scale(nearer)
        row = (self.rows - 1) / 2 + scale * down
        column = self.centre + scale * beside
        return self._shaken(row, column, t_s)

    def _shaken(self, row: Array, column: Array, t_s: Array | float | None) -> tuple[Array, Array]:
        if t_s is not None and shakes(self.surroundings):
            along, across = shift_px(self.surroundings, t_s)
            row, column = row + along, column + across
        return np.asarray(row), np.asarray(column)

    def scale_at(
        self, along_mm: Array | float, across_mm: Array | float, depth_mm: Array | float = 0.0
    ) -> Array:
        """Return px per mm at places in the world."""
        world = (np.asarray(along_mm) - self.middle_along, across_mm, depth_mm)
        nearer = sum(t * np.asarray(w) for t, w in zip(self.turn[2], world, strict=True))
        return np.asarray(self._scale(nearer))

    def _scale(self, nearer_mm: Array | float) -> Array:
        """Return px per mm at places so much nearer to the camera than the middle of the view."""
        if math.isinf(self.distance):
            return np.asarray(np.full(np.shape(nearer_mm), self.scale))
        room = np.maximum(self.distance - np.asarray(nearer_mm), 0.05 * self.distance)
        return np.asarray(self.scale * self.distance / room)

    def along_mm(self, along_px: float) -> float:
        """Return mm below the lip, in the middle lane, of an image coordinate along the fall."""
        row = self.along_row(along_px)
        return self.middle_along + _down_mm(
            (row - (self.rows - 1) / 2) / self.scale, self.turn, self.distance
        )

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
    distance = math.inf if view.distance_mm is None else view.distance_mm
    turn = _turn(math.radians(view.tilt_deg), math.radians(view.roll_deg))
    lip_down = _down_mm((lip - (rows - 1) / 2) / view.scale_px_per_mm, turn, distance)
    return Upright(
        falls=view.falls,
        rows=rows,
        columns=columns,
        scale=view.scale_px_per_mm,
        lip=lip,
        middle_along=-lip_down,
        centre=centre,
        distance=distance,
        turn=turn,
        line_s_per_row=per_row,
        line_s_per_column=per_column,
        first_line_s=first,
        marked_s=middle * exposure,
        exposure_s=exposure,
        straight=math.isinf(distance) and np.array_equal(turn, np.eye(3)),
        surroundings=scene.surroundings,
    )


def _turn(tilt: float, roll: float) -> Array:
    """Return directions in the world as the camera sees them: nod about across, then roll."""
    nod = np.array(
        [
            [math.cos(tilt), 0.0, math.sin(tilt)],
            [0.0, 1.0, 0.0],
            [-math.sin(tilt), 0.0, math.cos(tilt)],
        ]
    )
    turned = np.array(
        [
            [math.cos(roll), math.sin(roll), 0.0],
            [-math.sin(roll), math.cos(roll), 0.0],
            [0.0, 0.0, 1.0],
        ]
    )
    matrix: Array = turned @ nod
    return matrix


def _down_mm(offset_mm: float, turn: Array, distance: float) -> float:
    """Return mm along the fall from the middle of the view to where `offset_mm` is seen.

    `offset_mm` is px from the middle row over the scale there. The place lies in the plane of
    the lanes, in the middle lane: offset = down a / (1 - nearer a / distance).
    """
    down, nearer = turn[0, 0], turn[2, 0]
    return float(offset_mm / (down + offset_mm * nearer / distance))
