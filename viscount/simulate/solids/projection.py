"""What is seen of a part from afar, along the depth: its outline, and its light."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.scene import AnyPart
from viscount.simulate.solids.body import Body, Section, body
from viscount.simulate.solids.outline import Barrel, Dome, Floats, Hole, Outline, Piece, Prism
from viscount.simulate.solids.shading import Shading, light_in

Array = NDArray[np.float64]

SIDES = tuple((math.cos(a), math.sin(a)) for a in (0.0, math.pi / 3, 2 * math.pi / 3))
"""Directions of three sides of a hexagon, by its first two axes; the others lie opposite."""

AXIAL = 1e-6
"""A part whose axis is seen so short is seen from its end."""

ON_EDGE = 0.5
"""A plate's face that is turned towards the viewer by less than this share is seen on its edge.

The camera nods and rolls by less than that; the beam looks along the plate."""


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

    def cover(self, u: Floats, v: Floats) -> Floats:
        """Return the share of the picture's unit square at each (u, v) that it covers."""
        return self.outline.cover(u, v, self.angle_rad)

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
            sections=solid.sections,
            pieces=pieces,
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
        half = _plate_half(section, rotation) * scale
        return Barrel(-half, half, radius)
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


def _plate_half(section: Section, rotation: Array) -> float:
    """Return half the length of a plate as it is seen; on its edge it is as deep as broad."""
    if abs(rotation[2, 1]) >= ON_EDGE:
        return section.high
    return float(section.high * abs(rotation[0, 2]) + section.radius * abs(rotation[0, 0]))


def _prism(section: Section, rotation: Array, angle: float, slope: float, scale: float) -> Prism:
    """Return a hexagon prism as it is seen: the sum of its edges, of which four differ."""
    corner = section.radius * 2 / math.sqrt(3) * scale
    first, second = (_in_own(rotation[:2, axis], angle) for axis in (0, 1))
    edges = [
        (corner * (cos * first[0] + sin * second[0]), corner * (cos * first[1] + sin * second[1]))
        for cos, sin in SIDES
    ]
    edges.append((section.length * slope * scale, 0.0))
    edges = [edge for edge in edges if math.hypot(*edge) > 1e-6]
    slabs: list[tuple[float, float, float]] = []
    for u, v in edges:
        size = math.hypot(u, v)
        nu, nv = -v / size, u / size
        if any(abs(nu * b - nv * a) < 1e-6 for a, b, _ in slabs):
            continue
        slabs.append((nu, nv, sum(abs(nu * eu + nv * ev) for eu, ev in edges) / 2))
    corners = [(0.0, 0.0)]
    for u, v in edges:
        corners = [(cu + u * i, cv + v * i) for cu, cv in corners for i in (-0.5, 0.5)]
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


def _in_own(picture: Array, angle: float) -> tuple[float, float]:
    """Return a direction in the picture, (along, across), in the part's (u, v)."""
    along, across = float(picture[0]), float(picture[1])
    cos, sin = math.cos(angle), math.sin(angle)
    return cos * along + sin * across, cos * across - sin * along
