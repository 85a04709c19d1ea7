"""Outlines of parts in the plane of the picture, built of rectangles, discs and hexagons.

A silhouette is a sum of pieces that abut, minus its bore. Coordinates are those of the part:
`u` along its axis (downstream at angle 0), `v` across, origin at the centroid of the area.
"""

import math
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.part import AnyPart, Ball, Box, Nut, Screw, Washer

Floats = NDArray[np.floating[Any]]


def overlap(x: Floats, low: float, high: float) -> Floats:
    """Return how much of the unit interval centred at each `x` lies in [low, high]."""
    shared: Floats = np.maximum(np.minimum(x + 0.5, high) - np.maximum(x - 0.5, low), 0.0)
    return shared


class Piece(Protocol):
    """A convex piece of a silhouette; lengths in one unit throughout."""

    @property
    def area(self) -> float:
        """Its area."""
        ...

    @property
    def u(self) -> float:
        """Where its centroid lies along the part's axis; it is on the axis."""
        ...

    def cover(self, u: Floats, v: Floats) -> Floats:
        """Return the share of the unit square at each (u, v) that it covers."""
        ...

    def reach(self, du: float, dv: float) -> float:
        """Return how far it extends in the direction of the unit vector (du, dv)."""
        ...


@dataclass(frozen=True, slots=True)
class Rectangle:
    """`low <= u <= high`, `|v| <= half`."""

    low: float
    high: float
    half: float

    @property
    def area(self) -> float:
        """Its area."""
        return (self.high - self.low) * 2 * self.half

    @property
    def u(self) -> float:
        """Its centroid along u."""
        return (self.low + self.high) / 2

    def cover(self, u: Floats, v: Floats) -> Floats:
        """Exact for a pixel aligned with the rectangle."""
        return overlap(u, self.low, self.high) * overlap(v, -self.half, self.half)

    def reach(self, du: float, dv: float) -> float:
        """Return the farthest corner."""
        return max(du * self.low, du * self.high) + abs(dv) * self.half


@dataclass(frozen=True, slots=True)
class Disc:
    """A circle about the origin."""

    radius: float
    u: float = 0.0

    @property
    def area(self) -> float:
        """Its area."""
        return math.pi * self.radius**2

    def cover(self, u: Floats, v: Floats) -> Floats:
        """Soft edge of one unit about the signed distance."""
        cover: Floats = np.clip(self.radius + 0.5 - np.hypot(u - self.u, v), 0.0, 1.0)
        return cover

    def reach(self, du: float, dv: float) -> float:
        """Return the radius from its centre."""
        return du * self.u + self.radius


@dataclass(frozen=True, slots=True)
class Hexagon:
    """A regular hexagon about the origin with two corners on the u axis."""

    across_flats: float
    u: float = 0.0

    @property
    def area(self) -> float:
        """Its area, (sqrt 3 / 2) times the distance across flats squared."""
        return math.sqrt(3) / 2 * self.across_flats**2

    def cover(self, u: Floats, v: Floats) -> Floats:
        """Return the least of its three slabs."""
        half = self.across_flats / 2
        cover = overlap(v, -half, half)
        for side in (-1, 1):
            normal = math.sqrt(3) / 2 * u + side * v / 2
            cover = np.minimum(cover, overlap(normal, -half, half))
        return cover

    def reach(self, du: float, dv: float) -> float:
        """Return the farthest corner."""
        corner = self.across_flats / math.sqrt(3)
        angles = (math.radians(60 * k) for k in range(6))
        return max(corner * (du * math.cos(a) + dv * math.sin(a)) for a in angles)


@dataclass(frozen=True, slots=True)
class Silhouette:
    """A part's outline, in the unit its maker chose (mm, or px after `scaled`)."""

    pieces: tuple[Piece, ...]
    bore: Disc | None = None

    @property
    def area(self) -> float:
        """Area without the bore."""
        return sum(p.area for p in self.pieces) - (self.bore.area if self.bore else 0.0)

    @property
    def radius(self) -> float:
        """How far it extends from its centroid in any direction, at most."""
        along = max(max(p.reach(1, 0), p.reach(-1, 0)) for p in self.pieces)
        across = max(p.reach(0, 1) for p in self.pieces)
        return math.hypot(along, across)

    def cover(self, u: Floats, v: Floats) -> Floats:
        """Return the share of the unit square at each (u, v) that the part covers."""
        cover = self.pieces[0].cover(u, v)
        for piece in self.pieces[1:]:
            cover = cover + piece.cover(u, v)
        return cover - self.bore.cover(u, v) if self.bore else cover

    def reach(self, du: float, dv: float) -> float:
        """Return how far it extends from its centroid in the direction (du, dv)."""
        return max(p.reach(du, dv) for p in self.pieces)


def silhouette(part: AnyPart, scale: float = 1.0) -> Silhouette:
    """Return the outline of `part` in mm times `scale`, about its centroid."""
    bore = None
    pieces: tuple[Piece, ...]
    match part:
        case Screw():
            pieces = _screw(part, scale)
        case Ball():
            pieces = (Disc(scale * part.diameter_mm / 2),)
        case Box():
            pieces = (_rectangle(part.along_mm * scale, part.across_mm * scale),)
        case Nut() if part.pose == "edge":
            corners = part.across_flats_mm * 2 / math.sqrt(3)
            pieces = (_rectangle(part.thickness_mm * scale, corners * scale),)
        case Washer() if part.pose == "edge":
            pieces = (_rectangle(part.thickness_mm * scale, part.diameter_mm * scale),)
        case Nut():
            pieces = (Hexagon(part.across_flats_mm * scale),)
            bore = Disc(part.bore_mm / 2 * scale) if part.bore_mm else None
        case Washer():
            pieces = (Disc(part.diameter_mm / 2 * scale),)
            bore = Disc(part.bore_mm / 2 * scale) if part.bore_mm else None
    return Silhouette(pieces, bore)


def _rectangle(along: float, across: float) -> Rectangle:
    return Rectangle(-along / 2, along / 2, across / 2)


def _screw(part: Screw, scale: float) -> tuple[Rectangle, Rectangle]:
    """Head and shank about their common centroid."""
    head = Rectangle(0.0, part.head_height_mm, part.head_diameter_mm / 2)
    shank = Rectangle(part.head_height_mm, part.overall_length_mm, part.shank_diameter_mm / 2)
    centroid = (head.area * head.u + shank.area * shank.u) / (head.area + shank.area)
    moved = [
        Rectangle((r.low - centroid) * scale, (r.high - centroid) * scale, r.half * scale)
        for r in (head, shank)
    ]
    return moved[0], moved[1]
