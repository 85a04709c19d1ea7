"""How bright the face of a part is, from how it lies to the light.

Lambert's law for the shade, and Blinn's half vector with Phong's exponent for the glint (any
textbook of computer graphics, from memory).
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.solids.body import Section
from viscount.simulate.solids.outline import Piece

Floats = NDArray[np.floating[Any]]
Vector = tuple[float, float, float]

LIGHT: Vector = (-0.48, 0.36, 0.80)
"""From the part to the light, in (along, across, depth): above the camera, to its right."""

EXPONENT = 30
"""How sharp the glint is: half of it is left about 12 degrees off."""


@dataclass(frozen=True, slots=True)
class Shading:
    """The light on one part, in its own (u, v) and depth.

    `pieces` are its `sections` as they are seen. `slope` and `facing` are its own axis's shares
    along u and towards the camera, `scale` units for each mm, `light` where the light is, `half`
    half way between that and the camera.
    """

    sections: tuple[Section, ...]
    pieces: tuple[Piece, ...]
    scale: float
    slope: float
    facing: float
    light: Vector
    half: Vector
    shading_grey: float
    gloss_grey: float
    facet_rad: float

    def grey(self, u: Floats, v: Floats) -> Floats:
        """Return grey levels above the part's dark side at each (u, v)."""
        whole = list(zip(self.sections, self.pieces, strict=True))
        # Sections follow each other on the axis, so that one hides another as a whole.
        (farthest, behind), *nearer = whole if self.facing >= 0 else whole[::-1]
        grey = self._on(farthest, u, v)
        for section, piece in nearer:
            in_front = 2 * piece.cover(u, v) > behind.cover(u, v)
            grey = np.where(in_front, self._on(section, u, v), grey)
            behind = piece
        return grey

    def _on(self, section: Section, u: Floats, v: Floats) -> Floats:
        if section.form == "plate":
            return np.full_like(u + v, self._lit(0.0, 0.0, 1.0))
        if section.form == "ball":
            return self._sphere(section.radius * self.scale, 0.0, u, v)
        r = section.radius * self.scale
        if section.form == "dome":
            middle = (section.low + section.sphere) * self.slope * self.scale
            side = self._sphere(section.sphere * self.scale, middle, u, v)
            if self.facing <= 0:
                return side
        else:
            side = self._flank(section, v / r)
        # A hexagon's corners are chamfered: its face is round too.
        end = section.high if self.facing >= 0 else section.low
        face_u = (u - end * self.slope * self.scale) / max(r * abs(self.facing), 1e-6)
        on_face = face_u * face_u + (v / r) ** 2 <= 1
        sign = math.copysign(1.0, self.facing)
        face = self._lit(sign * self.slope, 0.0, abs(self.facing))
        return np.where(on_face, side.dtype.type(face), side)

    def _sphere(self, r: float, middle: float, u: Floats, v: Floats) -> Floats:
        """Return the light on a sphere of this radius about (middle, 0)."""
        nu, nv = np.clip((u - middle) / r, -1, 1), np.clip(v / r, -1, 1)
        return self._lit(nu, nv, np.sqrt(np.maximum(1 - nu * nu - nv * nv, 0.0)))

    def _flank(self, section: Section, beside: Floats) -> Floats:
        """Return the light on a flank, `beside` its radius from the axis."""
        angle = np.arcsin(np.clip(beside, -1.0, 1.0))
        if section.form == "hexagon":
            sixth = math.pi / 3
            angle = np.round((angle - self.facet_rad) / sixth) * sixth + self.facet_rad
        out = np.cos(angle)
        return self._lit(-self.facing * out, np.sin(angle), self.slope * out)

    def _lit(self, nu: Floats | float, nv: Floats | float, nd: Floats | float) -> Floats:
        shade = nu * self.light[0] + nv * self.light[1] + nd * self.light[2]
        glint = nu * self.half[0] + nv * self.half[1] + nd * self.half[2]
        grey: Floats = self.shading_grey * np.maximum(shade, 0.0)
        return grey + self.gloss_grey * np.maximum(glint, 0.0) ** EXPONENT


def light_in(angle_rad: float) -> tuple[Vector, Vector]:
    """Return the light, and half way to the camera, in a part's (u, v, depth)."""
    cos, sin = math.cos(angle_rad), math.sin(angle_rad)
    along, across, depth = LIGHT
    u, v = cos * along + sin * across, cos * across - sin * along
    size = math.sqrt(u**2 + v**2 + (depth + 1) ** 2)
    return (u, v, depth), (u / size, v / size, (depth + 1) / size)
