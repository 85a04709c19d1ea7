"""The pieces of a picture in which parts are drawn: a window about each, joined at a touch."""

import math
from dataclasses import dataclass

from viscount.simulate.drawing.actor import Actor


@dataclass(frozen=True, slots=True)
class Patch:
    """Upright rows [top, bottom) and columns [left, right)."""

    top: int
    bottom: int
    left: int
    right: int

    def touches(self, other: "Patch", room: int = 0) -> bool:
        """Whether the two share a pixel, or have no more than `room` px between them."""
        apart = self.bottom + room <= other.top or other.bottom + room <= self.top
        beside = self.right + room <= other.left or other.right + room <= self.left
        return not (apart or beside)

    def around(self, other: "Patch") -> "Patch":
        """Return the patch around both."""
        return Patch(
            min(self.top, other.top),
            max(self.bottom, other.bottom),
            min(self.left, other.left),
            max(self.right, other.right),
        )

    def inside(self, outer: "Patch") -> tuple[slice, slice]:
        """Return its rows and columns as they are counted in `outer`, which holds it."""
        return (
            slice(self.top - outer.top, self.bottom - outer.top),
            slice(self.left - outer.left, self.right - outer.left),
        )


@dataclass(frozen=True, slots=True)
class Placed:
    """A part and the patch that it can touch."""

    actor: Actor
    patch: Patch


@dataclass(frozen=True, slots=True)
class Window:
    """A piece of the picture, and the parts drawn in it, each in a patch of its own."""

    patch: Patch
    placed: tuple[Placed, ...]

    def joined(self, other: "Window") -> "Window":
        """Return the window around both."""
        return Window(self.patch.around(other.patch), self.placed + other.placed)

    @property
    def nearest_first(self) -> list[Placed]:
        """The parts in it, those nearest to the camera first."""
        return sorted(self.placed, key=lambda p: (-p.actor.depth_mm, p.actor.part))


def window_around(actor: Actor, rows: tuple[float, float], columns: tuple[float, float]) -> Window:
    """Return the window that holds these rows and columns and one pixel more."""
    floor = math.floor
    patch = Patch(floor(rows[0]), floor(rows[1]) + 2, floor(columns[0]), floor(columns[1]) + 2)
    return Window(patch, (Placed(actor, patch),))


def joined(windows: list[Window], room: int = 0) -> list[Window]:
    """Join windows until there are more than `room` px between any two."""
    separate: list[Window] = []
    for window in windows:
        while touching := [o for o in separate if o.patch.touches(window.patch, room)]:
            for other in touching:
                separate.remove(other)
                window = other.joined(window)
        separate.append(window)
    return separate
