"""Where the fall runs in the picture, and when each of its lines was exposed."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.motion.once import Once
from viscount.values import Falls

Floats = NDArray[np.float64]

MEETING_STEPS = 3
"""Steps of Newton's to where a part and the line that is being exposed meet."""
LEAST_APPROACH = 0.1
"""The line overtakes a part, or meets it, by at least this share of its own speed."""


@dataclass(frozen=True, kw_only=True)
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
    sigma_frame_s : by how much each frame's own time is off, by chance.
    common : share of the variance with which a part's centres scatter that all its sightings have
        in common, and that no number of them takes away: a lossy codec carries errors from frame to
        frame.
    """

    falls: Falls
    line_px: float
    view: tuple[int, int, int, int]
    picture: tuple[int, int]
    line_time_s: float = 0.0
    readout: Falls = Falls.DOWN
    sigma_frame_s: float = 0.0
    common: float = 0.0

    @Once
    def top(self) -> float:
        """Upstream border of the view, px along the fall from the line."""
        return min(self._borders())

    @Once
    def bottom(self) -> float:
        """Downstream border of the view, px along the fall from the line."""
        return max(self._borders())

    @Once
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
        match self.readout:
            case Falls.DOWN:
                rows = y_px
            case Falls.UP:
                rows = height - 1 - y_px
            case Falls.RIGHT:
                rows = x_px
            case Falls.LEFT:
                rows = width - 1 - x_px
        return rows * self.line_time_s

    def delay_s(self, along: Floats, across: Floats) -> Floats:
        """Return how long after the frame's time the line through each place was exposed.

        `along` in px along the fall from the line, `across` an image coordinate.
        """
        coordinate = self.line_px + self.falls.sign * along
        points = (across, coordinate) if self.falls.vertical else (coordinate, across)
        return self.line_delay_s(*points)

    def exposed_s(
        self,
        frame_s: float,
        first_s: Floats,
        path: Callable[[Floats], tuple[Floats, Floats, Floats]],
    ) -> Floats:
        """Return when the lines that moving points are on are exposed in the frame at `frame_s`.

        `path` takes times (n,) to places along, places across, and speeds along the fall, each
        (n,); `first_s` (n,) is a first guess. Lines beyond the picture count as if they were
        there.
        """
        if not self.line_time_s:
            return np.full_like(first_s, frame_s)
        at = first_s
        for _ in range(MEETING_STEPS):
            along, across, speed = path(at)
            late = at - frame_s - self.delay_s(along, across)
            at = at - late / np.maximum(1.0 - speed * self.line_time_along_s, LEAST_APPROACH)
        return at

    @property
    def line_time_along_s(self) -> float:
        """Time from one line to the next along the fall; negative where read against it."""
        if self.falls.vertical != self.readout.vertical:
            return 0.0
        return self.line_time_s * self.falls.sign * self.readout.sign

    def _borders(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.view
        low, high = (y0, y1) if self.falls.vertical else (x0, x1)
        sign = self.falls.sign
        return sign * (low - 0.5 - self.line_px), sign * (high - 0.5 - self.line_px)
