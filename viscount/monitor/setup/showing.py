"""How the picture lies in the window: how large, and where."""

from dataclasses import dataclass

from viscount.monitor.setup.marks import Mark
from viscount.monitor.setup.state import SetUp

LEAST, MOST = 0.05, 40.0
"""Window px for each px of the picture."""
_BEYOND = 0.6
"""A mark outside the picture is shown by `fitted` up to this share of the picture's size away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Showing:
    """A zoom, and where the upper left corner of the picture lies in the window, in its px."""

    zoom: float
    left: float
    top: float

    def to_window(self, x_px: float, y_px: float) -> tuple[float, float]:
        """Return where a point of the picture lies in the window."""
        return self.left + (x_px + 0.5) * self.zoom, self.top + (y_px + 0.5) * self.zoom

    def to_picture(self, x: float, y: float) -> tuple[float, float]:
        """Return the point of the picture, (0, 0) its first pixel's centre, in the window."""
        return (x - self.left) / self.zoom - 0.5, (y - self.top) / self.zoom - 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Margins:
    """Room that is left free round the picture, in px of the window."""

    left: float
    top: float
    right: float
    bottom: float


def zoomed(showing: Showing, factor: float, x: float, y: float) -> Showing:
    """Zoom by a factor; what lies at (x, y) in the window stays there."""
    zoom = min(max(showing.zoom * factor, LEAST), MOST)
    by = zoom / showing.zoom
    return Showing(zoom=zoom, left=x - (x - showing.left) * by, top=y - (y - showing.top) * by)


def panned(showing: Showing, right: float, down: float) -> Showing:
    """Move the picture in the window."""
    return Showing(zoom=showing.zoom, left=showing.left + right, top=showing.top + down)


def fitted(setup: SetUp, width: float, height: float, margins: Margins) -> Showing:
    """Return the picture as large as fits, with the marks that lie outside it."""
    x0, y0, x1, y1 = 0.0, 0.0, float(setup.width_px), float(setup.height_px)
    reach = _BEYOND * setup.along_px
    for mark in Mark:
        place = setup.now.place_px(mark)
        if place is None or not -reach <= place <= setup.along_px + reach:
            continue
        if setup.now.direction.vertical:
            y0, y1 = min(y0, place), max(y1, place + 1)
        else:
            x0, x1 = min(x0, place), max(x1, place + 1)
    room_x = max(width - margins.left - margins.right, 1.0)
    room_y = max(height - margins.top - margins.bottom, 1.0)
    zoom = min(max(min(room_x / (x1 - x0), room_y / (y1 - y0)), LEAST), MOST)
    left = margins.left + (room_x - zoom * (x1 - x0)) / 2 - zoom * x0
    top = margins.top + (room_y - zoom * (y1 - y0)) / 2 - zoom * y0
    return Showing(zoom=zoom, left=left, top=top)
