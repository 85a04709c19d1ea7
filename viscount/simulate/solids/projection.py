"""What is seen of a part from afar, along the depth: its outline, and its light."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.scene import AnyPart
from viscount.simulate.solids.body import Body, Section, body
from viscount.simulate.solids.outline import Barrel, Dome, Hole, Outline, Piece, Prism
from viscount.simulate.solids.shading import Shading, light_in

Array = NDArray[np.float64]

AXIAL = 1e-6
"""A part whose axis is seen so short is seen from its end."""


@dataclass(frozen=True, slots=True, eq=False)
class Projection:
    """A part as it is seen.

    Attributes
    ----------
    outline : in units of the scale, in its own (u, v).
    angle_rad : from along the fall to u, towards across.
    shading : the light on it, or None for a plain silhouette.
    """

    outline: Outline
    angle_rad: float
    shading: Shading | None

    @property
    def offset(self) -> tuple[float, float]:
        """From the centre of mass to the centroid of the outline's area, (along, across)."""
        u, v = self.outline.centroid
        cos, sin = math.cos(self.angle_rad), math.sin(self.angle_rad)
        return cos * u - sin * v, sin * u + cos * v

    def reach(self, along: float, across: float) -> float:
        """Return how far it extends from the centre of mass in a direction in the picture."""
        cos, sin = math.cos(self.angle_rad), math.sin(self.angle_rad)
        return self.outline.reach(cos * along + sin * across, cos * across - sin * along)


def projected(part: AnyPart, rotation: Array, scale: float = 1.0) -> Projection:
    """Return what is seen of `part` in parallel rays.

    Parameters
    ----------
    rotation : (3, 3), the body's axes as columns in (along, across, depth).
    scale : units for each mm.
    """
    solid = body(part)
    slope = math.hypot(rotation[0, 2], rotation[1, 2])
    facing = float(rotation[2, 2])
    if slope < AXIAL:
        slope, facing = 0.0, math.copysign(1.0, facing)
    # Seen from its end a part has no axis to go by; a hexagon's first corner stands in.
    seen = rotation[:2, 2] if slope else rotation[:2, 0]
    round_ = all(s.form in ("round", "dome", "ball") for s in solid.sections)
    angle = 0.0 if round_ and not slope else math.atan2(seen[1], seen[0])
    pieces = tuple(_piece(s, rotation, angle, slope, facing, scale) for s in solid.sections)
    shading = None
    if part.shading_grey or part.gloss_grey:
        light, half = light_in(angle)
        shading = Shading(
            body=solid,
            scale=scale,
            slope=slope,
            facing=facing,
            light=light,
            half=half,
            shading_grey=part.shading_grey,
            gloss_grey=part.gloss_grey,
            facet_rad=_facet(rotation, angle),
        )
    return Projection(Outline(pieces, _hole(solid, slope, facing, scale)), angle, shading)


def _piece(
    section: Section, rotation: Array, angle: float, slope: float, facing: float, scale: float
) -> Piece:
    radius = section.radius * scale
    low, high = section.low * slope * scale, section.high * slope * scale
    if section.form == "ball":
        return Barrel(0.0, 0.0, radius, radius)
    if section.form == "plate":
        return Barrel(section.low * scale, section.high * scale, radius)
    if section.form == "hexagon":
        return _prism(section, rotation, angle, slope, scale)
    bulges = radius * abs(facing)
    if section.form == "dome":
        centre = section.low + section.sphere
        return Dome(
            foot=high,
            radius=radius,
            bulges=bulges,
            centre=centre * slope * scale,
            sphere=section.sphere * scale,
            rise=(section.high - centre) * scale,
            slope=slope,
        )
    return Barrel(low, high, radius, bulges)


def _prism(section: Section, rotation: Array, angle: float, slope: float, scale: float) -> Prism:
    """Return a hexagon prism as it is seen: the sum of its edges, of which four differ."""
    corner = section.radius * 2 / math.sqrt(3) * scale
    turned = np.array([_in_own(rotation[:2, axis], angle) for axis in (0, 1)])
    sides = [
        corner * (math.cos(a) * turned[0] + math.sin(a) * turned[1])
        for a in (math.pi / 3 * k for k in range(3))
    ]
    edges = [*sides, np.array([section.length * slope * scale, 0.0])]
    edges = [e for e in edges if math.hypot(*e) > 1e-6]
    slabs: list[tuple[float, float, float]] = []
    for edge in edges:
        size = math.hypot(*edge)
        nu, nv = -edge[1] / size, edge[0] / size
        if any(abs(nu * b - nv * a) < 1e-6 for a, b, _ in slabs):
            continue
        half = sum(abs(nu * e[0] + nv * e[1]) for e in edges) / 2
        slabs.append((float(nu), float(nv), float(half)))
    ends = [
        np.sum([e * (i - 0.5) for e, i in zip(edges, chosen, strict=True)], axis=0)
        for chosen in np.ndindex(*(2,) * len(edges))
    ]
    corners = {(float(u), float(v)) for u, v in ends}
    middle = (section.low + section.high) / 2 * slope * scale
    return Prism(middle, tuple(slabs), tuple(corners))


def _hole(solid: Body, slope: float, facing: float, scale: float) -> Hole | None:
    """Return what is seen through the bore, or None."""
    if not solid.bore:
        return None
    (section,) = solid.sections
    radius, apart = solid.bore * scale, section.length * slope * scale
    bulges = radius * abs(facing)
    return Hole(radius, bulges, apart) if bulges > apart / 2 else None


def _facet(rotation: Array, angle: float) -> float:
    """Return where, about the own axis, the middle of a hexagon's face is seen from the camera.

    Measured from straight towards the camera; faces repeat every sixth of a turn.
    """
    first, second = (_in_own(rotation[:2, axis], angle)[1] for axis in (0, 1))
    corner = math.atan2(first, -second) if first or second else 0.0
    return (corner + math.pi / 6) % (math.pi / 3)


def _in_own(picture: Array, angle: float) -> Array:
    """Return a direction in the picture, (along, across), in the part's (u, v)."""
    cos, sin = math.cos(angle), math.sin(angle)
    return np.array([cos * picture[0] + sin * picture[1], cos * picture[1] - sin * picture[0]])
