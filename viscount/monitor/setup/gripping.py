"""What of a mark lies under the mouse, and how it can be moved by it."""

from dataclasses import dataclass
from enum import StrEnum

from viscount.monitor.setup.marks import Mark, Marks, Ruler
from viscount.outlet import Box


class Handle(StrEnum):
    """The place by which a mark is held."""

    WHOLE = "whole"
    X0 = "x0"
    X1 = "x1"
    Y0 = "y0"
    Y1 = "y1"
    X0Y0 = "x0y0"
    X1Y0 = "x1y0"
    X0Y1 = "x0y1"
    X1Y1 = "x1y1"
    START = "start"
    END = "end"

    @property
    def has_x0(self) -> bool:
        """Whether it moves a box's left edge."""
        return "x0" in self.value

    @property
    def has_x1(self) -> bool:
        """Whether it moves a box's right edge."""
        return "x1" in self.value

    @property
    def has_y0(self) -> bool:
        """Whether it moves a box's upper edge."""
        return "y0" in self.value

    @property
    def has_y1(self) -> bool:
        """Whether it moves a box's lower edge."""
        return "y1" in self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """A mark, held somewhere."""

    mark: Mark
    handle: Handle


def grip_at(
    marks: Marks, x_px: float, y_px: float, *, reach_px: float, first: Mark | None = None
) -> Grip | None:
    """Return what can be held at a point of the picture; None where there is nothing.

    Parameters
    ----------
    reach_px : how far a mark may be from the point.
    first : the mark that is preferred where several lie there.
    """
    found = [
        (away, mark is not first, handle, mark)
        for mark in Mark
        for away, handle in _handles(marks, mark, x_px, y_px)
        if away <= reach_px
    ]
    if not found:
        return None
    # What is selected, then ends and corners, then the nearest.
    best = min(found, key=lambda one: (one[1], _wide(one[2], one[3]), one[0]))
    return Grip(mark=best[3], handle=best[2])


def _wide(handle: Handle, mark: Mark) -> int:
    """Return 0 for handles that are points, 1 for edges and lines, 2 for a box's inside."""
    if handle in (Handle.START, Handle.END) or len(handle.value) == 4:
        return 0
    return 2 if handle is Handle.WHOLE and mark.framed else 1


def _handles(marks: Marks, mark: Mark, x: float, y: float) -> list[tuple[float, Handle]]:
    """Return handles of one mark, each with how far it is from the point."""
    if mark.crosses:
        place = marks.place_px(mark)
        if place is None:
            return []
        return [(abs((y if marks.direction.vertical else x) - place), Handle.WHOLE)]
    if mark is Mark.SCALE:
        return [] if marks.ruler is None else _of_ruler(marks.ruler, x, y)
    box = marks.box(mark)
    return [] if box is None else _of_box(box, x, y, inside=mark is Mark.LAMP)


def _of_ruler(ruler: Ruler, x: float, y: float) -> list[tuple[float, Handle]]:
    right, down = ruler.x1_px - ruler.x0_px, ruler.y1_px - ruler.y0_px
    start = _away(x - ruler.x0_px, y - ruler.y0_px)
    end = _away(x - ruler.x1_px, y - ruler.y1_px)
    found = [(end, Handle.END), (start, Handle.START)]
    square = right**2 + down**2
    if square > 0:
        share = ((x - ruler.x0_px) * right + (y - ruler.y0_px) * down) / square
        share = min(max(share, 0.0), 1.0)
        beside = _away(x - ruler.x0_px - share * right, y - ruler.y0_px - share * down)
        found.append((beside, Handle.WHOLE))
    return found


def _of_box(box: Box, x: float, y: float, *, inside: bool) -> list[tuple[float, Handle]]:
    # The edges of the outermost pixels, whose centres are at whole numbers.
    x0, y0, x1, y1 = (edge - 0.5 for edge in box)
    out_x, out_y = max(x0 - x, 0.0, x - x1), max(y0 - y, 0.0, y - y1)
    found = [
        (_away(x - x0, y - y0), Handle.X0Y0),
        (_away(x - x1, y - y0), Handle.X1Y0),
        (_away(x - x0, y - y1), Handle.X0Y1),
        (_away(x - x1, y - y1), Handle.X1Y1),
        (_away(x - x0, out_y), Handle.X0),
        (_away(x - x1, out_y), Handle.X1),
        (_away(out_x, y - y0), Handle.Y0),
        (_away(out_x, y - y1), Handle.Y1),
    ]
    if inside and not out_x and not out_y:
        found.append((0.0, Handle.WHOLE))
    return found


def _away(right: float, down: float) -> float:
    return float((right**2 + down**2) ** 0.5)
