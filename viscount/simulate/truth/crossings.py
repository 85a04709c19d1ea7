"""When parts cross the counting line: the centroids of their outlines, to a camera at rest.

Each path is looked at every `STEP_S` and wherever it bends, and each change of side between two
looks is narrowed down to its moment. So it does not matter what happens to the part meanwhile:
it may bounce, be held across the line, or turn its centroid back over it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from viscount.simulate.geometry import Upright
from viscount.simulate.physics import Paths
from viscount.simulate.truth.places import Shapes, picture_speed

Array = NDArray[np.float64]

STEP_S = 1e-3
CLOSE_S = 1e-11


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One crossing of the line: when, whether with the fall, and how fast.

    The speeds are those of its centre of mass; `column` is the upright one of its centroid.
    """

    t_s: float
    downwards: bool
    speed_mm_s: float
    speed_px_s: float
    column: float


def crossings(
    paths: Paths, up: Upright, shapes: Shapes, line_px: float, end_s: float
) -> list[list[Crossing]]:
    """Return each part's crossings of the line from time 0 to `end_s`, in order of time."""
    looker = _Looker(paths, up, shapes, up.along_row(line_px))
    looks = np.append(np.arange(0.0, end_s, STEP_S), end_s)
    return [looker.crossings(part, looks) for part in range(paths.count)]


class _Looker:
    """Looks on which side of the line parts are."""

    def __init__(self, paths: Paths, up: Upright, shapes: Shapes, line_row: float) -> None:
        self._paths, self._up, self._shapes = paths, up, shapes
        self._line_row = line_row

    def crossings(self, part: int, looks: Array) -> list[Crossing]:
        bends = self._paths.legs.start_s[part]
        inside = bends[(bends > looks[0]) & (bends < looks[-1])]
        t_s = np.union1d(looks, inside)
        beyond = self._beyond(part, t_s) >= 0
        changes = np.flatnonzero(beyond[1:] != beyond[:-1])
        return [
            self._crossing(part, float(t_s[i]), float(t_s[i + 1]), downwards=bool(beyond[i + 1]))
            for i in changes
        ]

    def _beyond(self, part: int, t_s: Array) -> Array:
        """Return how far the centroid is beyond the line, px; only the sign where it is far."""
        off: Array = self._place(part, t_s)[0] - self._line_row
        near = np.flatnonzero(np.abs(off) <= self._shapes.radius_px(part, t_s))
        if len(near) and self._shapes.stays(part):
            off[near] += self._shapes.offset(part, float(t_s[near[0]]))[0]
            return off
        for i in near:
            off[i] += self._shapes.offset(part, float(t_s[i]))[0]
        return off

    def _crossing(self, part: int, before_s: float, after_s: float, *, downwards: bool) -> Crossing:
        def beyond(t_s: float) -> float:
            row = float(self._place(part, np.array(t_s))[0])
            return row + self._shapes.offset(part, t_s)[0] - self._line_row

        t_s = float(brentq(beyond, before_s, after_s, xtol=CLOSE_S))
        moment = np.array(t_s)
        return Crossing(
            t_s=t_s,
            downwards=downwards,
            speed_mm_s=float(self._paths.along(part, moment)[1]),
            speed_px_s=float(picture_speed(self._paths, self._up, part, moment)),
            column=float(self._place(part, moment)[1]) + self._shapes.offset(part, t_s)[1],
        )

    def _place(self, part: int, t_s: Array) -> tuple[Array, Array]:
        """Return upright row and column of the centre of mass, to a camera at rest."""
        paths = self._paths
        along = paths.along(part, t_s)[0]
        return self._up.place(along, paths.across(part, t_s), paths.depth(part, t_s))
