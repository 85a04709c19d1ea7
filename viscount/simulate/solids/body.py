"""Parts as solids: sections one behind the other on one axis, of even density.

The axis is the body's third. Places on it are measured from the centre of mass, towards what
leads as the part leaves the lip. A hexagon has a corner in the direction of the first axis.
"""

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.scene import AnyPart, Ball, Box, Nut, Screw, Washer

Array = NDArray[np.float64]
Form = Literal["round", "hexagon", "dome", "ball", "plate"]

SLICES = 400
"""Slices of a dome when its moments are added up."""


@dataclass(frozen=True, slots=True)
class Section:
    """A piece of a part from `low` to `high` on its axis, in mm.

    `radius` is half the width: of a hexagon half the distance across flats, of a dome the one
    at its foot, which is at `high`; of a plate half its breadth.
    """

    form: Form
    low: float
    high: float
    radius: float

    @property
    def length(self) -> float:
        """Its length on the axis."""
        return self.high - self.low

    @property
    def sphere(self) -> float:
        """Radius of the sphere that a dome is cut from."""
        return (self.radius**2 + self.length**2) / (2 * self.length)

    def moved(self, by: float) -> "Section":
        """Return it moved along the axis."""
        return replace(self, low=self.low + by, high=self.high + by)


@dataclass(frozen=True, slots=True)
class Body:
    """A part: its sections, and the radius of a bore through all of them (0 for none)."""

    sections: tuple[Section, ...]
    bore: float = 0.0

    @property
    def radius(self) -> float:
        """The greatest distance of any of its points from its centre of mass, or a little more."""
        return max(
            math.hypot(max(abs(s.low), abs(s.high)), s.radius * 2 / math.sqrt(3))
            for s in self.sections
        )


@cache
def body(part: AnyPart) -> Body:
    """Return a part as a solid about its centre of mass."""
    match part:
        case Screw():
            forms: dict[str, Form] = {"cylinder": "round", "hexagon": "hexagon", "dome": "dome"}
            head = Section(forms[part.head], 0.0, part.head_height_mm, part.head_diameter_mm / 2)
            shank = Section(
                "round", part.head_height_mm, part.overall_length_mm, part.shank_diameter_mm / 2
            )
            whole = (head, shank)
            masses = [_moments(section)[0] for section in whole]
            middles = [_moments(section)[1] for section in whole]
            centre = float(np.dot(masses, middles) / sum(masses))
            return Body(tuple(section.moved(-centre) for section in whole))
        case Nut():
            half = part.thickness_mm / 2
            flats = part.across_flats_mm / 2
            return Body((Section("hexagon", -half, half, flats),), part.bore_mm / 2)
        case Washer():
            half = part.thickness_mm / 2
            radius = part.diameter_mm / 2
            return Body((Section("round", -half, half, radius),), part.bore_mm / 2)
        case Ball():
            radius = part.diameter_mm / 2
            return Body((Section("ball", -radius, radius, radius),))
        case Box():
            half = part.along_mm / 2
            return Body((Section("plate", -half, half, part.across_mm / 2),))


def rotation_at_rest(part: AnyPart) -> Array:
    """Return the body's axes as columns in (along, across, depth) with nothing turned."""
    along, across, depth = np.eye(3)
    if isinstance(part, Nut | Washer):
        if part.pose == "flat":
            return np.column_stack([along, across, depth])
        if part.pose == "standing":
            return np.column_stack([along, -depth, across])
    return np.column_stack([across, depth, along])


def inertia_ratio(part: AnyPart) -> float:
    """Return the moment of inertia about the own axis over that across it.

    From the moments of cylinders, hexagon prisms and slices of domes about their own centres
    and the parallel axis theorem; any textbook of mechanics, from memory. A ball's is 1; so is
    what is said of a plate, which turns in the plane of the picture alone.
    """
    solid = body(part)
    if solid.sections[0].form in ("ball", "plate"):
        return 1.0
    about = across = 0.0
    for section in solid.sections:
        mass, middle, own, cross = _moments(section)
        about += own
        across += cross + mass * middle**2
        if solid.bore:
            hole = replace(section, form="round", radius=solid.bore)
            mass, middle, own, cross = _moments(hole)
            about -= own
            across -= cross + mass * middle**2
    return about / across


def _moments(section: Section) -> tuple[float, float, float, float]:
    """Return volume, place of its centre, and moments about the own axis and across it."""
    length, middle, r = section.length, (section.low + section.high) / 2, section.radius
    if section.form == "hexagon":
        # Second moments of a regular hexagon of circumradius R: 5 R^4 sqrt(3) / 16 each way.
        corner = 2 * r / math.sqrt(3)
        volume = 1.5 * math.sqrt(3) * corner**2 * length
        about = volume * 5 * corner**2 / 12
    elif section.form == "dome":
        return _dome_moments(section)
    else:
        volume = math.pi * r**2 * length
        about = volume * r**2 / 2
    return volume, middle, about, about / 2 + volume * length**2 / 12


def _dome_moments(section: Section) -> tuple[float, float, float, float]:
    step = section.length / SLICES
    z = section.low + (np.arange(SLICES) + 0.5) * step
    square = section.sphere**2 - (z - section.low - section.sphere) ** 2
    volumes = math.pi * square * step
    volume = float(volumes.sum())
    middle = float((volumes * z).sum()) / volume
    about = float((volumes * square / 2).sum())
    return volume, middle, about, about / 2 + float((volumes * (z - middle) ** 2).sum())
