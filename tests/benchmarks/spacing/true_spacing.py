"""What interval, spacing and gap truly are in a simulated pour, by its own integrated paths."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.physics import paths
from viscount.simulate.physics.reach import Reaches
from viscount.simulate.scene import Scene

Floats = NDArray[np.float64]

BELOW_MM = 80.0
"""Paths are followed so far beyond the lowest height: a tail is there later than its centre."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueSpacing:
    """Of n parts in the order given: (n,) times, (n - 1,) between neighbours; mm, s.

    Spacing is the mean of the two speeds times the interval, as everywhere.
    """

    t_s: Floats
    interval_s: Floats
    spacing_mm: Floats
    gap_s: Floats


class TrueFall:
    """The paths of a scene's parts."""

    def __init__(self, scene: Scene, lowest_mm: float) -> None:
        self._paths = paths(scene, lowest_mm + BELOW_MM)
        self._reaches = Reaches(scene, self._paths.tops, self._paths.lip_s)

    def at(self, below_lip_mm: float, order: NDArray[np.intp]) -> TrueSpacing:
        """Return the truth at a height, of the parts of these numbers."""
        fall = self._paths
        t_s = fall.arrival(below_lip_mm)
        ends = [self._reaches.at(k, float(t_s[k])) for k in range(fall.count)]
        heads = fall.arrival(below_lip_mm - np.array([end.front for end in ends]))[order]
        tails = fall.arrival(below_lip_mm + np.array([end.back for end in ends]))[order]
        there = t_s[order]
        speed = np.array([float(fall.along(int(k), np.array(t_s[k]))[1]) for k in order])
        return TrueSpacing(
            t_s=there,
            interval_s=np.diff(there),
            spacing_mm=(speed[1:] + speed[:-1]) / 2 * np.diff(there),
            gap_s=heads[1:] - tails[:-1],
        )
