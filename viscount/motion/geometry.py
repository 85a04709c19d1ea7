"""Where the fall runs in the picture, and when each of its lines was exposed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.values import Falls

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Geometry:
    """The counting line and the view, in the picture's own pixels.

    Attributes
    ----------
    falls : direction of the fall in the picture.
    line_px : image coordinate of the counting line along the fall.
    view : (x0, y0, x1, y1), half-open: the region in which parts can be seen.
    picture : (height, width) of the delivered picture.
    line_time_s : time from one exposed line to the next; 0 for a global shutter.
    readout : direction in which the lines are exposed.
    """

    falls: Falls
    line_px: float
    view: tuple[int, int, int, int]
    picture: tuple[int, int]
    line_time_s: float = 0.0
    readout: Falls = Falls.DOWN

    @property
    def top(self) -> float:
        """Upstream border of the view, px along the fall from the line."""
        return min(self._borders())

    @property
    def bottom(self) -> float:
        """Downstream border of the view, px along the fall from the line."""
        return max(self._borders())

    @property
    def sides(self) -> tuple[float, float]:
        """Borders of the view across the fall, image coordinates."""
        x0, y0, x1, y1 = self.view
        low, high = (x0, x1) if self.falls.vertical else (y0, y1)
        return low - 0.5, high - 0.5

    def along(self, x_px: Floats, y_px: Floats) -> Floats:
        """Return px along the fall from the line, positive downstream."""
        coordinate = y_px if self.falls.vertical else x_px
        return self.falls.sign * (coordinate - self.line_px)

    def across(self, x_px: Floats, y_px: Floats) -> Floats:
        """Return the image coordinate across the fall."""
        return x_px if self.falls.vertical else y_px

    def line_delay_s(self, x_px: Floats, y_px: Floats) -> Floats:
        """Return how long after the frame's time the line through each point was exposed."""
        height, width = self.picture
        rows = {
            Falls.DOWN: y_px,
            Falls.UP: height - 1 - y_px,
            Falls.RIGHT: x_px,
            Falls.LEFT: width - 1 - x_px,
        }[self.readout]
        return rows * self.line_time_s

    def _borders(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.view
        low, high = (y0, y1) if self.falls.vertical else (x0, x1)
        sign = self.falls.sign
        return sign * (low - 0.5 - self.line_px), sign * (high - 0.5 - self.line_px)
