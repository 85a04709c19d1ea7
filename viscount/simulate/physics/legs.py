"""The motion of each part along the fall as legs: it falls, lies still, rises or falls again.

A leg runs along one integrated column of places and speeds from a place and a moment of its
own, so that what happens to a part on its way is exact at the moment it happens.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.physics.integration import STEP_S, cubic, reached

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Leg:
    """From `start_s` until the next leg, a part is at `origin_mm` plus what its column says.

    The column counts from `clock_s`. `sign` is 1 where it falls, -1 where it rises and 0 where
    it lies still.
    """

    start_s: float
    clock_s: float
    origin_mm: float
    column: int
    sign: int


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Integrated places (mm) and speeds (mm/s), (steps, columns), every `STEP_S`."""

    places: Array
    speeds: Array

    def at(self, column: NDArray[np.intp] | int, age_s: Array) -> tuple[Array, Array]:
        """Return place and speed on a column at an age; held at its two ends, NaN where it is."""
        steps = age_s / STEP_S
        i = np.fmin(np.fmax(steps, 0.0), len(self.places) - 2).astype(np.intp)
        return cubic(
            np.minimum(steps - i, 1.0),
            self.places[i, column],
            self.places[i + 1, column],
            self.speeds[i, column],
            self.speeds[i + 1, column],
        )

    def with_more(self, more: Sequence[tuple[Array, Array]]) -> "Columns":
        """Return them with further columns, cut or drawn out to the same number of steps."""
        if not more:
            return self
        steps = len(self.places)

        def fitted(column: Array) -> Array:
            short = steps - len(column)
            return np.pad(column, (0, short), mode="edge") if short > 0 else column[:steps]

        return Columns(
            np.column_stack([self.places, *(fitted(places) for places, _ in more)]),
            np.column_stack([self.speeds, *(fitted(speeds) for _, speeds in more)]),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Legs:
    """The legs of n parts, (n, most legs), those that a part does not have at time inf.

    `bent` (n,) says which parts have more than their one fall.
    """

    start_s: Array
    clock_s: Array
    origin_mm: Array
    column: NDArray[np.intp]
    sign: NDArray[np.intp]
    bent: NDArray[np.bool_]

    def along(
        self, columns: Columns, part: int | NDArray[np.intp], t_s: Array
    ) -> tuple[Array, Array]:
        """Return place and speed of `part` at the times `t_s`."""
        passed = np.asarray(t_s)[..., None] >= self.start_s[part]
        leg = np.maximum(passed.sum(axis=-1) - 1, 0)
        age = t_s - self.clock_s[part, leg]
        place, speed = columns.at(self.column[part, leg], age)
        return self.origin_mm[part, leg] + place, speed

    def crossings(self, columns: Columns, goal_mm: Array) -> Array:
        """Return when each leg of each part passes that part's goal, (n, legs); NaN where never.

        A leg that starts at the goal does not pass it, unless it is the part's first.
        """
        n, most = self.start_s.shape
        part, leg = np.nonzero((self.start_s < np.inf) & (self.sign != 0))
        column, sign = self.column[part, leg], self.sign[part, leg]
        goal = sign * (goal_mm[part] - self.origin_mm[part, leg])
        steps = reached(sign * columns.places[:, column], sign * columns.speeds[:, column], goal)
        t = self.clock_s[part, leg] + steps * STEP_S
        ends = np.column_stack([self.start_s[:, 1:], np.full(n, np.inf)])[part, leg]
        passes = (t <= ends + 1e-12) & ((goal > 0) | ((leg == 0) & (goal == 0)))
        found = np.full((n, most), np.nan)
        found[part, leg] = np.where(passes, t, np.nan)
        return found


def gathered(legs: Sequence[Sequence[Leg]]) -> Legs:
    """Return the legs of each part as arrays; each part has at least one."""
    n, most = len(legs), max((len(own) for own in legs), default=1)

    def table(field: str, fill: float) -> Array:
        cells = np.full((n, most), fill)
        for k, own in enumerate(legs):
            cells[k, : len(own)] = [getattr(leg, field) for leg in own]
        return cells

    return Legs(
        start_s=table("start_s", np.inf),
        clock_s=table("clock_s", 0.0),
        origin_mm=table("origin_mm", 0.0),
        column=table("column", 0).astype(np.intp),
        sign=table("sign", 0).astype(np.intp),
        bent=np.array([len(own) > 1 for own in legs], dtype=bool),
    )
