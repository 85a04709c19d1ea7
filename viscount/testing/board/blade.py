"""The blade of a simulated gate: a spring shuts it, the coil draws it open, both take time."""

import random
from dataclasses import dataclass
from enum import StrEnum

from viscount.testing.board.settings import BoardSettings, Range


class Place(StrEnum):
    """Where the blade has come to."""

    OPEN = "open"
    REACHED = "reached"
    SHUT = "shut"


@dataclass(frozen=True, slots=True, kw_only=True)
class BladeMove:
    """The true time at which the blade came to a place."""

    t_ns: int
    place: Place


class Blade:
    """Moves some time after the coil is switched, each time another time.

    Attributes
    ----------
    shut : what the shut sensor sees.
    jammed : the blade stays where it is.
    log : where it came to, and when.
    """

    def __init__(self, settings: BoardSettings, rng: random.Random) -> None:
        self.shut = True
        self.jammed = False
        self.log: list[BladeMove] = []
        self._settings = settings
        self._rng = rng
        self._coming: list[BladeMove] = []

    @property
    def due_ns(self) -> int | None:
        """When it moves next, or None."""
        return self._coming[0].t_ns if self._coming else None

    def switch(self, t_ns: int, on: bool) -> None:
        """Hear of the coil."""
        self._coming.clear()
        if on:
            self._come(t_ns, Place.OPEN, self._draw(self._settings.opens_ms))
        elif not self.shut:
            reach = self._draw(self._settings.reach_ms)
            self._come(t_ns, Place.REACHED, reach)
            self._come(t_ns, Place.SHUT, max(reach, self._draw(self._settings.shut_ms)))

    def move(self) -> bool:
        """Come to the next place; return whether the shut sensor changed."""
        coming = self._coming.pop(0)
        if self.jammed:
            return False
        self.log.append(coming)
        before, self.shut = self.shut, coming.place is Place.SHUT
        return self.shut != before

    def _draw(self, spread_ms: Range) -> float:
        return self._rng.uniform(*spread_ms)

    def _come(self, t_ns: int, place: Place, after_ms: float) -> None:
        self._coming.append(BladeMove(t_ns=t_ns + round(after_ms * 1e6), place=place))
