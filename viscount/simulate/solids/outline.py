"""Outlines: the share of each unit square that what is seen of a solid covers.

Coordinates are (u, v): u along the part's own axis as it is seen, v across it, from the centre
of mass; one unit is the picture's px, or the beam's grid, whose squares may lie askew to u and
v. For each v an outline reaches over one stretch of u, so that coverage is an overlap along u,
weighted by how much of the square's breadth is covered at all. A straight edge shares out every
square as it is cut; at corners, and where an edge bends within a square, the share is right on
average.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]
Bounds = tuple[Floats, Floats]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)

FLAT = 1e-3
"""A bulge of less than so many units is none."""


def overlap(x: Floats, low: Floats | float, high: Floats | float, askew_rad: float = 0.0) -> Floats:
    """Return how much of the unit square centred at each `x` lies in [low, high].

    `askew_rad` is the angle from x to a side of the square.
    """
    narrow, wide = sorted((abs(math.cos(askew_rad)), abs(math.sin(askew_rad))))
    if narrow < FLAT:
        shared: Floats = np.minimum(x + 0.5, high) - np.maximum(x - 0.5, low)
    else:
        shared = _beyond(x - low, narrow, wide) - _beyond(x - high, narrow, wide)
    return np.maximum(shared, 0.0, out=shared)


def _beyond(x: Floats, narrow: float, wide: float) -> Floats:
    """Return by how much more than its half a square at each `x` lies above 0.

    The square as it projects on x is a trapezoid: a box as long as one of its sides is seen,
    spread over the other.
    """
    far = np.abs(x)
    slope = np.clip((wide + narrow) / 2 - far, 0.0, narrow)
    share = np.minimum(far, (wide - narrow) / 2) / wide
    share += (narrow * narrow - slope * slope) / (2 * wide * narrow)
    more: Floats = np.copysign(share, x)
    return more


def bulge(v: Floats, radius: float) -> Floats:
    """Return the mean of sqrt(1 - (v / radius)²) over the unit interval about each `v`.

    Outside the circle the root counts as 0.
    """

    def integral(at: Floats) -> Floats:
        x = np.clip(at / radius, -1.0, 1.0)
        whole: Floats = (x * np.sqrt(1 - x * x) + np.arcsin(x)) * (radius / 2)
        return whole

    mean: Floats = integral(v + 0.5) - integral(v - 0.5)
    return mean


class Piece(Protocol):
    """A convex piece of an outline."""

    def cover(self, u: Floats, v: Floats, askew_rad: float = 0.0) -> Floats:
        """Return the share of the unit square at each (u, v) that it covers."""
        ...

    def bounds(self, v: Floats) -> Bounds:
        """Return from where to where along u it reaches at each `v`; low above high where not."""
        ...

    @property
    def bends(self) -> tuple[float, ...]:
        """The places across at which its bounds have corners or ends."""
        ...

    def reach(self, du: float, dv: float) -> float:
        """Return how far it extends in the direction of the unit vector (du, dv)."""
        ...


@dataclass(frozen=True, slots=True)
class Barrel:
    """A cylinder seen askew: `|v| <= radius`, and ends that bulge by `bulges`.

    `low` and `high` are where the middles of its ends are seen. A disc that faces the viewer
    has both at 0, and bulges by its radius.
    """

    low: float
    high: float
    radius: float
    bulges: float = 0.0

    def cover(self, u: Floats, v: Floats, askew_rad: float = 0.0) -> Floats:
        """Return the share of the unit square at each (u, v) that it covers."""
        breadth = overlap(v, -self.radius, self.radius, askew_rad)
        if self.bulges < FLAT:
            return overlap(u, self.low, self.high, askew_rad) * breadth
        end = _bulge(v, self.radius, self.bulges)
        return overlap(u, self.low - end, self.high + end, askew_rad) * breadth

    def bounds(self, v: Floats) -> Bounds:
        """Return from where to where along u it reaches at each `v`."""
        root = np.sqrt(np.maximum(1 - (v / self.radius) ** 2, 0.0)) * self.bulges
        inside = np.abs(v) <= self.radius
        low = np.where(inside, self.low - root, np.inf)
        return low, np.where(inside, self.high + root, -np.inf)

    @property
    def bends(self) -> tuple[float, ...]:
        """The places across at which its bounds have corners or ends."""
        return -self.radius, self.radius

    def reach(self, du: float, dv: float) -> float:
        """Return how far it extends in the direction of the unit vector (du, dv)."""
        return max(du * self.low, du * self.high) + math.hypot(du * self.bulges, dv * self.radius)


@dataclass(frozen=True, slots=True)
class Prism:
    """A hexagon prism seen askew: where slabs (normal u, normal v, half) about `middle` overlap."""

    middle: float
    slabs: tuple[tuple[float, float, float], ...]
    corners: tuple[tuple[float, float], ...]

    def cover(self, u: Floats, v: Floats, askew_rad: float = 0.0) -> Floats:
        """Return the share of the unit square at each (u, v) that it covers."""
        u = u - np.float32(self.middle)
        shares = [
            overlap(_mixed(u, v, nu, nv), -half, half, askew_rad + math.atan2(nv, nu))
            for nu, nv, half in self.slabs
        ]
        if len(shares) == 2:
            return shares[0] * shares[1]
        cover = np.minimum(shares[0], shares[1])
        for share in shares[2:]:
            cover = np.minimum(cover, share)
        return cover

    def bounds(self, v: Floats) -> Bounds:
        """Return from where to where along u it reaches at each `v`."""
        low, high = np.full(np.shape(v), -np.inf), np.full(np.shape(v), np.inf)
        for nu, nv, half in self.slabs:
            if abs(nu) < 1e-9:
                outside = np.abs(nv * v) > half
                low, high = np.where(outside, np.inf, low), np.where(outside, -np.inf, high)
                continue
            one, other = (-half - nv * v) / nu, (half - nv * v) / nu
            low = np.maximum(low, np.minimum(one, other))
            high = np.minimum(high, np.maximum(one, other))
        return low + self.middle, high + self.middle

    @property
    def bends(self) -> tuple[float, ...]:
        """The places across at which its bounds have corners or ends."""
        return tuple({round(v, 9) for _, v in self.corners})

    def reach(self, du: float, dv: float) -> float:
        """Return how far it extends in the direction of the unit vector (du, dv)."""
        return du * self.middle + max(du * u + dv * v for u, v in self.corners)


@dataclass(frozen=True, slots=True)
class Dome:
    """A spherical cap seen askew.

    `foot` is where the middle of its foot is seen, `radius` the foot's radius, `bulges` what
    the foot bulges by; `centre` and `sphere` are those of the sphere, `rise` how far the foot is
    from the sphere's centre on the axis (negative: upstream), `slope` the axis's share along u.
    """

    foot: float
    radius: float
    bulges: float
    centre: float
    sphere: float
    rise: float
    slope: float

    def cover(self, u: Floats, v: Floats, askew_rad: float = 0.0) -> Floats:
        """Return the share of the unit square at each (u, v) that it covers."""
        breadth = overlap(v, -self.radius, self.radius, askew_rad)
        low, high = self._ends(np.minimum(np.abs(v), np.float32(self.radius)))
        return overlap(u, low, high, askew_rad) * breadth

    def bounds(self, v: Floats) -> Bounds:
        """Return from where to where along u it reaches at each `v`."""
        inside = np.abs(v) <= self.radius
        low, high = self._ends(np.minimum(np.abs(v), self.radius))
        return np.where(inside, low, np.inf), np.where(inside, high, -np.inf)

    @property
    def bends(self) -> tuple[float, ...]:
        """The places across at which its bounds have corners or ends."""
        return -self.radius, self.radius

    def reach(self, du: float, dv: float) -> float:
        """Return how far it extends in the direction of the unit vector (du, dv)."""
        foot = du * self.foot + math.hypot(du * self.bulges, dv * self.radius)
        touches = self.sphere * du * self.slope <= self.rise
        return max(foot, du * self.centre + self.sphere) if touches else foot

    def _ends(self, v: Floats) -> Bounds:
        """Return the ends at `v` within the foot: the sphere's, where the cap has that."""
        root = self.bulges * np.sqrt(np.maximum(1 - (v / self.radius) ** 2, 0.0))
        ball = np.sqrt(np.maximum(self.sphere**2 - v * v, 0.0))
        low, high = self.foot - root, self.foot + root
        up = -self.slope * ball <= self.rise
        low = np.where(up, np.minimum(low, self.centre - ball), low)
        down = self.slope * ball <= self.rise
        return low, np.where(down, np.maximum(high, self.centre + ball), high)


@dataclass(frozen=True, slots=True)
class Hole:
    """What is seen through a bore of this radius: where both its rims are open.

    The rims' middles are seen `apart` from each other, and each is squeezed to `bulges`.
    """

    radius: float
    bulges: float
    apart: float

    def cover(self, u: Floats, v: Floats, askew_rad: float = 0.0) -> Floats:
        """Return the share of the unit square at each (u, v) that is open."""
        breadth = overlap(v, -self.radius, self.radius, askew_rad)
        half = np.maximum(_bulge(v, self.radius, self.bulges) - self.apart / 2, 0.0)
        return overlap(u, -half, half, askew_rad) * breadth

    def bounds(self, v: Floats) -> Bounds:
        """Return from where to where along u it is open at each `v`."""
        root = np.sqrt(np.maximum(1 - (v / self.radius) ** 2, 0.0)) * self.bulges
        half = root - self.apart / 2
        closed = half <= 0
        return np.where(closed, np.inf, -half), np.where(closed, -np.inf, half)


@dataclass(frozen=True, eq=False)
class Outline:
    """What is seen of a part: pieces that overlap or abut, less what is seen through its bore."""

    pieces: tuple[Piece, ...]
    hole: Hole | None = None

    def cover(self, u: Floats, v: Floats, askew_rad: float = 0.0) -> Floats:
        """Return the share of the unit square at each (u, v) that the part covers."""
        cover = self.pieces[0].cover(u, v, askew_rad)
        if len(self.pieces) > 1:
            for piece in self.pieces[1:]:
                cover = cover + piece.cover(u, v, askew_rad)
            cover = np.minimum(cover, 1.0, out=cover)
        return cover - self.hole.cover(u, v, askew_rad) if self.hole else cover

    def reach(self, du: float, dv: float) -> float:
        """Return how far it extends from the centre of mass in the direction (du, dv)."""
        return max(piece.reach(du, dv) for piece in self.pieces)

    @cached_property
    def radius(self) -> float:
        """How far it extends from the centre of mass in any direction, at most."""
        along = max(self.reach(1.0, 0.0), self.reach(-1.0, 0.0))
        return math.hypot(along, max(self.reach(0.0, 1.0), self.reach(0.0, -1.0)))

    @property
    def area(self) -> float:
        """Its area, without what is seen through the bore."""
        return self._sums[0]

    @property
    def centroid(self) -> tuple[float, float]:
        """The centroid of its area, (u, v)."""
        return self._sums[1], self._sums[2]

    @cached_property
    def _sums(self) -> tuple[float, float, float]:
        """Return area and centroid, added up over stretches along u."""
        v, weight = self._samples()
        ends = [piece.bounds(v) for piece in self.pieces]
        # Wherever more than one piece reaches, they overlap or abut.
        low, high = np.min([e[0] for e in ends], axis=0), np.max([e[1] for e in ends], axis=0)
        length, moment = _stretch(low, high)
        if self.hole:
            open_length, open_moment = _stretch(*self.hole.bounds(v))
            length, moment = length - open_length, moment - open_moment
        area = max(float(weight @ length), 1e-12)
        return area, float(weight @ moment) / area, float(weight @ (length * v)) / area

    def _samples(self) -> tuple[Floats, Floats]:
        """Return places across the outline and their weights, by Gauss between its corners."""
        corners = {bend for piece in self.pieces for bend in piece.bends}
        if self.hole:
            corners |= {-self.hole.radius, self.hole.radius}
        at = np.array(sorted(corners))
        middle, half = (at[1:] + at[:-1]) / 2, (at[1:] - at[:-1]) / 2
        v = middle[:, None] + half[:, None] * _NODES
        return v.ravel(), (half[:, None] * _WEIGHTS).ravel()


def _bulge(v: Floats, radius: float, bulges: float) -> Floats:
    """Return the mean bulge over what is covered of the breadth of the square at each `v`."""
    covered = np.maximum(overlap(v, -radius, radius), 1e-6)
    mean: Floats = bulges * bulge(v, radius) / covered
    return mean


def _stretch(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Return length and first moment of each stretch; 0 where it ends before it begins."""
    there = high > low
    low, high = np.where(there, low, 0.0), np.where(there, high, 0.0)
    return high - low, (high * high - low * low) / 2


def _mixed(u: Floats, v: Floats, nu: float, nv: float) -> Floats:
    """Return nu u + nv v, in the arrays' own precision."""
    if abs(nv) < 1e-9:
        return u * np.float32(nu)
    if abs(nu) < 1e-9:
        return v * np.float32(nv)
    return u * np.float32(nu) + v * np.float32(nv)
