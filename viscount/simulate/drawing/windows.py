"""The pieces of a picture in which parts are drawn: a window about each, joined at a touch."""

import math
from dataclasses import dataclass

from viscount.simulate.drawing.actor import Actor


@dataclass(frozen=True, slots=True)
class Window:
    """Upright rows [top, bottom) and columns [left, right), and the parts drawn in it."""

    top: int
    bottom: int
    left: int
    right: int
    actors: tuple[Actor, ...]

    def touches(self, other: "Window") -> bool:
        """Whether the two share a pixel."""
        apart = self.bottom <= other.top or other.bottom <= self.top
        beside = self.right <= other.left or other.right <= self.left
        return not (apart or beside)

    def joined(self, other: "Window") -> "Window":
        """Return the window around both."""
        return Window(
            min(self.top, other.top),
            max(self.bottom, other.bottom),
            min(self.left, other.left),
            max(self.right, other.right),
            self.actors + other.actors,
        )


def window_around(actor: Actor, rows: tuple[float, float], columns: tuple[float, float]) -> Window:
    """Return the window that holds these rows and columns and one pixel more."""
    floor = math.floor
    return Window(
        floor(rows[0]), floor(rows[1]) + 2, floor(columns[0]), floor(columns[1]) + 2, (actor,)
    )


def joined(windows: list[Window]) -> list[Window]:
    """Join windows until none touches another."""
    separate: list[Window] = []
    for window in windows:
        while touching := [other for other in separate if other.touches(window)]:
            for other in touching:
                separate.remove(other)
                window = other.joined(window)
        separate.append(window)
    return separate
