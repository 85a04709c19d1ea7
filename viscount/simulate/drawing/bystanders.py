"""What is in the view beside the parts: each gives the share of every pixel that it covers."""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.geometry import Upright
from viscount.simulate.physics import Paths
from viscount.simulate.scene import (
    AnyPart,
    Bag,
    Dust,
    Gate,
    Intruder,
    LampInView,
    Resting,
)
from viscount.simulate.solids import projected, rotation_at_rest

Picture = NDArray[np.float32]
Rows = NDArray[np.float64]


class Bystander(Protocol):
    """Something in the view that is no falling part; it moves little within an exposure."""

    @property
    def in_front(self) -> bool:
        """Whether it hides parts, or they hide it."""
        ...

    def cover(self, rows: Rows, columns: Rows, t_s: float) -> Picture | None:
        """Return the share of each pixel that it covers, broadcastable; None where it is away.

        `rows` is (rows, 1), `columns` (1, columns), shaken with the camera.
        """
        ...

    def grey(self, t_s: float) -> float:
        """Return its grey."""
        ...


@dataclass(frozen=True, slots=True)
class Ledge:
    """A part at rest."""

    resting: Resting
    part: AnyPart
    part_grey: float
    up: Upright
    in_front: bool = False

    def cover(self, rows: Rows, columns: Rows, t_s: float) -> Picture | None:
        """Return the share of each pixel that it covers."""
        if not self.resting.from_s <= t_s < self.resting.until_s:
            return None
        seen = projected(self.part, rotation_at_rest(self.part), self.up.scale)
        down = (rows - self.up.along_row(self.resting.along_px)).astype(np.float32)
        beside = (columns - self.resting.across_px).astype(np.float32)
        cos, sin = np.float32(math.cos(seen.angle_rad)), np.float32(math.sin(seen.angle_rad))
        if not seen.angle_rad:
            return np.asarray(seen.cover(down, beside), dtype=np.float32)
        u, v = cos * down + sin * beside, cos * beside - sin * down
        return np.asarray(seen.cover(u, v), dtype=np.float32)

    def grey(self, t_s: float) -> float:
        """Return its grey."""
        return self.part_grey if self.part.grey is None else self.part.grey


@dataclass(frozen=True, slots=True)
class Rim:
    """The bag's front wall, up to its swaying rim."""

    bag: Bag
    up: Upright
    in_front: bool = True

    def cover(self, rows: Rows, columns: Rows, t_s: float) -> Picture | None:
        """Return the share of each pixel that it covers."""
        sway = self.bag.sway_px * math.sin(2 * math.pi * self.bag.sway_hz * t_s)
        rim = self.up.along_row(self.bag.rim_px) + sway
        return np.clip(rows - rim + 0.5, 0.0, 1.0).astype(np.float32)

    def grey(self, t_s: float) -> float:
        """Return its grey."""
        return self.bag.grey


@dataclass(frozen=True, slots=True)
class Hand:
    """A rounded shape that comes in from the right as far as the middle, and goes out again."""

    intruder: Intruder
    up: Upright
    in_front: bool = True

    def cover(self, rows: Rows, columns: Rows, t_s: float) -> Picture | None:
        """Return the share of each pixel that it covers."""
        begin, end, half = self.intruder.from_s, self.intruder.until_s, self.intruder.size_px / 2
        if not begin <= t_s < end:
            return None
        inwards = 1 - abs(2 * (t_s - begin) / (end - begin) - 1)
        outside = self.up.columns + half
        tip = outside + inwards * (self.up.columns / 2 - outside)
        beyond = np.minimum(columns - tip, 0.0)
        distance = np.hypot(rows - self.up.along_row(self.intruder.along_px), beyond)
        return _within(half, distance)

    def grey(self, t_s: float) -> float:
        """Return its grey."""
        return self.intruder.grey


@dataclass(frozen=True, slots=True)
class Insect:
    """A small round thing that wavers from the left to the right."""

    intruder: Intruder
    up: Upright
    in_front: bool = True

    def cover(self, rows: Rows, columns: Rows, t_s: float) -> Picture | None:
        """Return the share of each pixel that it covers."""
        begin, end, half = self.intruder.from_s, self.intruder.until_s, self.intruder.size_px / 2
        if not begin <= t_s < end:
            return None
        done = (t_s - begin) / (end - begin)
        start = self.up.along_row(self.intruder.along_px)
        towards = self.intruder.towards_along_px
        goal = start if towards is None else self.up.along_row(towards)
        waver = 2 * half * math.sin(2 * math.pi * 3.0 * done)
        row = start + done * (goal - start) + waver
        column = -2 * half + done * (self.up.columns + 4 * half)
        distance = np.hypot(rows - row, columns - column - waver / 2)
        return _within(half, distance)

    def grey(self, t_s: float) -> float:
        """Return its grey."""
        return self.intruder.grey


@dataclass(frozen=True, slots=True, eq=False)
class Specks:
    """Dust that sinks through the view, and comes in again from above."""

    dust: Dust
    up: Upright
    seed: int
    in_front: bool = True

    def cover(self, rows: Rows, columns: Rows, t_s: float) -> Picture | None:
        """Return the share of each pixel that it covers."""
        rng = np.random.default_rng(np.random.SeedSequence(self.seed, spawn_key=(5, 1)))
        half, tall = self.dust.size_px / 2, self.up.rows + 4 * self.dust.size_px
        cover = np.zeros((rows.size, columns.size), dtype=np.float32)
        for start, column, speed in rng.uniform([0, 0, 0.5], [1, 1, 1.5], (self.dust.count, 3)):
            fallen = start * tall + speed * self.dust.speed_px_s * t_s
            row = fallen % tall - 2 * self.dust.size_px
            around = (
                _about(rows, row, half + 1),
                _about(columns, column * self.up.columns, half + 1),
            )
            down, beside = rows[around[0]] - row, columns[:, around[1]] - column * self.up.columns
            speck = _within(half, np.hypot(down, beside))
            np.maximum(cover[around], speck, out=cover[around], casting="same_kind")
        return cover

    def grey(self, t_s: float) -> float:
        """Return its grey."""
        return self.dust.grey


@dataclass(frozen=True, slots=True, eq=False)
class BladeInView:
    """The gate's blade, which comes in from the left."""

    gate: Gate
    paths: Paths
    up: Upright
    in_front: bool = True

    def cover(self, rows: Rows, columns: Rows, t_s: float) -> Picture | None:
        """Return the share of each pixel that it covers."""
        share, blade = float(self.paths.blade(t_s)), self.paths.gate
        if not share or blade is None:
            return None
        edge_mm = blade.left_mm + share * (blade.right_mm - blade.left_mm)
        row, edge = self.up.place(self.gate.below_lip_mm, edge_mm)
        half = self.gate.thickness_mm / 2 * self.up.scale
        # Its upper face is where parts come to lie.
        tall = np.clip(half + 0.5 - np.abs(rows - row - half), 0.0, 1.0)
        wide = np.clip(edge - columns + 0.5, 0.0, 1.0)
        return np.asarray(tall * wide, dtype=np.float32)

    def grey(self, t_s: float) -> float:
        """Return its grey."""
        return self.gate.grey


@dataclass(frozen=True, slots=True, eq=False)
class Signal:
    """A lamp that is lit in the stretches of time given; it stays where it is in the picture."""

    lamp: LampInView
    up: Upright
    lit_s: NDArray[np.float64]
    in_front: bool = False

    def cover(self, rows: Rows, columns: Rows, t_s: float) -> Picture | None:
        """Return the share of each pixel that it covers."""
        x = np.array([self.lamp.left_px, self.lamp.left_px + self.lamp.width_px - 1], np.float64)
        y = np.array([self.lamp.top_px, self.lamp.top_px + self.lamp.height_px - 1], np.float64)
        along, across = (y, x) if self.up.falls.vertical else (x, y)
        along = np.sort([self.up.along_row(a) for a in along])
        tall = (rows >= along[0] - 0.5) & (rows <= along[1] + 0.5)
        wide = (columns >= across[0] - 0.5) & (columns <= across[1] + 0.5)
        return np.asarray(tall & wide, dtype=np.float32)

    def grey(self, t_s: float) -> float:
        """Return its grey."""
        lit = np.any((self.lit_s[:, 0] <= t_s) & (t_s < self.lit_s[:, 1]))
        return self.lamp.lit_grey if lit else self.lamp.dark_grey


def _within(radius: float, distance: Rows) -> Picture:
    """Return how much of each pixel is within a radius, by how far it is from the middle."""
    return np.clip(radius + 0.5 - distance, 0.0, 1.0).astype(np.float32)


def _about(places: Rows, middle: float, reach: float) -> slice:
    """Return which of these places, evenly 1 px apart, are within `reach` of `middle`."""
    first = float(places.flat[0])
    low, high = math.ceil(middle - reach - first), math.floor(middle + reach - first) + 1
    return slice(max(low, 0), max(high, 0))
