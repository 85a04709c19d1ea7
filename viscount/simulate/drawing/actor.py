"""One part as it is drawn in one frame: its outline, where it goes, and its greys."""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.geometry import Upright
from viscount.simulate.physics import Paths
from viscount.simulate.scene import AnyPart, Scene
from viscount.simulate.solids import Projection, inertia_ratio, projected
from viscount.simulate.solids.body import body

Array = NDArray[np.float64]
Picture = NDArray[np.float32]

INSTANT_S = 1e-4
"""The turn in the plane of the picture is taken from two moments so far apart."""

END_ON = 0.05
"""A round part whose axis is seen so short looks the same however it turns in the picture."""


@dataclass(frozen=True, slots=True, eq=False)
class Actor:
    """A part in a frame.

    `seen` is its outline in px at the moment `at_s`, when its own line is exposed; from there it
    turns in the plane of the picture by `spin_rad_s`. `reach` is its radius in px.
    """

    part: int
    at_s: float
    seen: Projection
    spin_rad_s: float
    reach: float
    depth_mm: float
    grey: float
    glint_px: float
    glint_grey: float

    def ends(self, times: Array) -> tuple[float, float, float, float]:
        """How far it is seen up, down, left and right of its centre at the times, in px, at most.

        As it turns, no point of it goes farther than the angle times its reach.
        """
        swept = self.reach * abs(self.spin_rad_s) * float(np.abs(times - self.at_s).max())
        up, down, left, right = (
            min(self.seen.reach(*way) + swept, self.reach) + 1
            for way in ((-1.0, 0.0), (1.0, 0.0), (0.0, -1.0), (0.0, 1.0))
        )
        return up, down, left, right

    @property
    def plain(self) -> bool:
        """Whether it has one grey all over."""
        return not self.glint_px and self.seen.shading is None

    def own(
        self, paths: Paths, up: Upright, times: Array, rows: Array, columns: Array
    ) -> tuple[Picture, Picture]:
        """Return every pixel's place in the part's own (u, v), in px, at each of the times."""
        along = paths.along(self.part, times)[0]
        row, column = up.place(along, paths.across(self.part, times), self.depth_mm, times)
        down, beside = (rows - row).astype(np.float32), (columns - column).astype(np.float32)
        angle = self.seen.angle_rad + self.spin_rad_s * (times - self.at_s)
        if not np.any(angle):
            return down, beside
        cos, sin = np.cos(angle).astype(np.float32), np.sin(angle).astype(np.float32)
        return cos * down + sin * beside, cos * beside - sin * down

    def greys(self, u: Picture, v: Picture, cover: Picture) -> Picture:
        """Return the grey it adds to each pixel of which it covers this share."""
        painted = cover * np.float32(self.grey)
        if self.seen.shading is not None:
            painted += cover * self.seen.shading.grey(u, v).astype(np.float32)
        if self.glint_px:
            half = np.float32(self.glint_px / 2)
            band = np.clip(half + np.float32(0.5) - np.abs(u), 0.0, 1.0)
            painted += cover * band * np.float32(self.glint_grey - self.grey)
        return painted


class Cast:
    """The parts of a scene, made into actors frame by frame."""

    def __init__(self, scene: Scene, paths: Paths, up: Upright) -> None:
        self._scene, self._paths, self._up = scene, paths, up
        self._still: dict[int, Actor] = {}
        self._one_scale = up.straight

    def actor(self, part: int, at_s: float) -> Actor:
        """Return part `part` as it is seen at this moment."""
        if part in self._still:
            return replace(self._still[part], at_s=at_s)
        turns = self._paths.tops.turns(part)
        made = self._made(part, at_s, turns)
        if not turns and self._one_scale:
            self._still[part] = made
        return made

    def _made(self, part: int, at_s: float, turns: bool) -> Actor:
        paths, up, camera = self._paths, self._up, self._scene.camera
        shape, moment = self._scene.part(part), np.array(at_s)
        depth = float(paths.depth(part, moment))
        along, across = paths.along(part, moment)[0], paths.across(part, moment)
        scale = float(up.scale_at(along, across, depth))
        rotation = up.turn @ paths.rotation(part, moment)
        seen = projected(shape, rotation, scale)
        spin = 0.0
        if turns:
            later = up.turn @ paths.rotation(part, moment + INSTANT_S)
            spin = _turned_rad(_weights(shape), rotation, later) / INSTANT_S
        return Actor(
            part=part,
            at_s=at_s,
            seen=seen,
            spin_rad_s=spin,
            reach=seen.outline.radius,
            depth_mm=depth,
            grey=camera.part_grey if shape.grey is None else shape.grey,
            glint_px=shape.glint_mm * scale,
            glint_grey=(camera.background_grey if shape.glint_grey is None else shape.glint_grey),
        )


@lru_cache(maxsize=64)
def _weights(part: AnyPart) -> Array:
    """Return how much each of a part's axes counts for the way that its outline turns: (3,).

    Its second moments; but about its own axis a round part may turn unseen.
    """
    forms = {section.form for section in body(part).sections}
    if forms == {"ball"}:
        return np.zeros(3)
    if forms <= {"hexagon", "plate"}:
        return np.array([1.0, 1.0, 2 / inertia_ratio(part) - 1])
    return np.array([0.0, 0.0, 1.0])


def _turned_rad(weights: Array, before: Array, after: Array) -> float:
    """Return the turn in the picture that best takes the axes as seen before to those after.

    The plane case of Procrustes' problem (Schönemann 1966), in closed form.
    """
    seen = weights * (before[0] ** 2 + before[1] ** 2)
    if seen.sum() <= END_ON**2 * weights.sum():
        return 0.0
    across = weights @ (before[0] * after[1] - before[1] * after[0])
    along = weights @ (before[0] * after[0] + before[1] * after[1])
    return math.atan2(across, along)
