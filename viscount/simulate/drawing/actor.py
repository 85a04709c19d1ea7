"""One part as it is drawn in one frame: its outline, where it goes, and its greys."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.geometry import Upright
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Scene
from viscount.simulate.solids import Projection, projected

Array = NDArray[np.float64]
Picture = NDArray[np.float32]

INSTANT_S = 1e-4
"""The turn in the plane of the picture is taken from two moments so far apart."""


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

    @property
    def ends(self) -> tuple[float, float, float, float]:
        """How far it may be seen up, down, to the left and to the right of its centre, in px."""
        if self.spin_rad_s:
            # While a rolling shutter passes it may turn.
            return (self.reach + 1,) * 4
        back, front = self.seen.reach(-1.0, 0.0) + 1, self.seen.reach(1.0, 0.0) + 1
        return back, front, self.seen.reach(0.0, -1.0) + 1, self.seen.reach(0.0, 1.0) + 1

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
            change = later @ rotation.T
            spin = math.atan2(change[1, 0] - change[0, 1], change[0, 0] + change[1, 1]) / INSTANT_S
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
