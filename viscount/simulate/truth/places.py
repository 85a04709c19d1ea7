"""Where a camera sees parts: the centroids of their outlines, and how far these reach."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.geometry import Upright
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Scene
from viscount.simulate.solids import Projection, projected
from viscount.simulate.solids.body import body

Array = NDArray[np.float64]

DIRECTIONS = np.array(
    [(math.cos(a), math.sin(a)) for a in np.arange(16) * math.pi / 8], dtype=np.float64
)
"""(16, 2): directions (along, across) in which the distance between outlines is looked for."""

INSTANT_S = 1e-6
"""The speed in the picture is taken from two places so far apart in time."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A part's outline as it is seen at a moment, in px.

    `offset` is (along, across) from its centre of mass to its centroid; `reaches` (16,) how far
    it extends from the centroid in each of `DIRECTIONS`.
    """

    offset: tuple[float, float]
    reaches: Array

    def stretched(self, stretch: float) -> Array:
        """Return how far it extends, at most, where the readout stretches it along the fall: (16,).

        Exact along the fall and across it. Between, support functions add up: what is stretched
        is in the outline plus a piece of the fall, what is squeezed in a mixture of it and its
        breadth.
        """
        along, across = np.abs(DIRECTIONS.T)
        if stretch >= 1:
            ends = np.where(DIRECTIONS[:, 0] > 0, self.front, self.back)
            longer: Array = self.reaches + (stretch - 1) * along * ends
            return longer
        sides = np.where(DIRECTIONS[:, 1] > 0, self.right, self.left)
        shorter: Array = stretch * self.reaches + (1 - stretch) * across * sides
        return shorter

    @property
    def back(self) -> float:
        """How far it extends upstream."""
        return float(self.reaches[8])

    @property
    def front(self) -> float:
        """How far it extends downstream."""
        return float(self.reaches[0])

    @property
    def right(self) -> float:
        """How far it extends to the right."""
        return float(self.reaches[4])

    @property
    def left(self) -> float:
        """How far it extends to the left."""
        return float(self.reaches[12])


class Shapes:
    """The outlines of a scene's parts; that of a part that does not turn is made once."""

    def __init__(self, scene: Scene, paths: Paths, up: Upright) -> None:
        self._scene, self._paths, self._up = scene, paths, up
        self._still: dict[int, Shape] = {}

    def stays(self, part: int) -> bool:
        """Whether a part looks the same all along its path."""
        return self._up.straight and not self._paths.tops.turns(part)

    def radius_px(self, part: int, t_s: Array) -> Array:
        """Return how far from its centre of mass a part can be seen to reach, px, at most."""
        paths = self._paths
        scale = self._up.scale_at(
            paths.along(part, t_s)[0], paths.across(part, t_s), paths.depth(part, t_s)
        )
        return body(self._scene.part(part)).radius * scale

    def at(self, part: int, t_s: float) -> Shape:
        """Return the outline of a part at a moment."""
        if part in self._still:
            return self._still[part]
        made = _shape(self.projection(part, t_s))
        if self.stays(part):
            self._still[part] = made
        return made

    def offset(self, part: int, t_s: float) -> tuple[float, float]:
        """Return only how far, (along, across), its centroid is from its centre of mass, px."""
        if self.stays(part):
            return self.at(part, t_s).offset
        return self.projection(part, t_s).offset

    def projection(self, part: int, t_s: float) -> Projection:
        """Return what is seen of a part at a moment."""
        paths, up, moment = self._paths, self._up, np.array(t_s)
        scale = up.scale_at(
            paths.along(part, moment)[0], paths.across(part, moment), paths.depth(part, moment)
        )
        rotation = up.turn @ paths.rotation(part, moment)
        return projected(self._scene.part(part), rotation, float(scale))


def picture_speed(paths: Paths, up: Upright, part: int, t_s: Array) -> Array:
    """Return how fast a part's centre of mass moves down the picture at the times `t_s`, px/s."""
    along, rate = paths.along(part, t_s)
    across, depth = paths.across(part, t_s), paths.depth(part, t_s)
    later = along + rate * INSTANT_S, paths.across(part, t_s + INSTANT_S), depth
    speed: Array = (up.place(*later)[0] - up.place(along, across, depth)[0]) / INSTANT_S
    return speed


def _shape(seen: Projection) -> Shape:
    along, across = seen.offset
    reaches = [seen.reach(a, c) - a * along - c * across for a, c in DIRECTIONS.tolist()]
    return Shape((along, across), np.array(reaches))
