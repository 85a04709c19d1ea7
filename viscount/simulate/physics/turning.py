"""How parts turn: each a rigid symmetrical top that turns freely.

Without torque the angular momentum L stands still in space, and the rates of turn are

    omega = L / I1 + (1 - I3 / I1) w3 e3

with e3 the part's own axis, w3 the rate about it (which stays), I3 the moment of inertia about
it and I1 the one about every axis across it. So the part turns steadily about L at |L| / I1, the
precession, and meanwhile about its own axis at (1 - I3 / I1) w3. From memory; in any textbook
of mechanics under the free symmetrical top.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.scene import Box, Scene
from viscount.simulate.solids import inertia_ratio, rotation_at_rest

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Tops:
    """How each of n parts turns from its moment at the lip on.

    Attributes
    ----------
    start : (n, 3, 3), the body's axes as columns in (along, across, depth).
    precession_rad_s : (n, 3), L / I1 in the same directions.
    own_rad_s : (n,), the rate about the part's own axis that comes on top of it.
    """

    start: Array
    precession_rad_s: Array
    own_rad_s: Array
    _rate: Array
    _first: Array
    _second: Array

    def rotation(self, part: int | NDArray[np.intp], age_s: Array) -> Array:
        """Return rotations (..., 3, 3) of `part` at the ages `age_s` since the lip."""
        angle = np.asarray(self._rate[part] * age_s)[..., None, None]
        turned: Array = (
            self.start[part]
            + np.sin(angle) * self._first[part]
            + (1 - np.cos(angle)) * self._second[part]
        )
        own = self.own_rad_s[part]
        return turned @ _about_third(own * age_s) if np.any(own) else turned

    def turns(self, part: int) -> bool:
        """Whether `part` turns at all."""
        return bool(self._rate[part] or self.own_rad_s[part])


def _tops(start: Array, precession_rad_s: Array, own_rad_s: Array) -> Tops:
    """Work out what Rodrigues' formula, I + sin a K + (1 - cos a) K², needs for each part."""
    rate = np.linalg.norm(precession_rad_s, axis=1)
    cross = _cross(precession_rad_s / np.where(rate, rate, 1.0)[:, None])
    first = cross @ start
    return Tops(start, precession_rad_s, own_rad_s, rate, first, cross @ first)


def tops(scene: Scene, angle_rad: Array, spin_rad_s: Array, rng: np.random.Generator) -> Tops:
    """Return how the parts of `scene` turn, with what they do in the plane of the picture given."""
    turning, n = scene.turning, scene.count

    def drawn(mean_deg: float, spread_deg: float) -> Array:
        return np.radians(mean_deg + spread_deg * rng.standard_normal(n))

    tilt = drawn(turning.tilt_deg, turning.tilt_spread_deg)
    roll = drawn(turning.roll_deg, turning.roll_spread_deg)
    tumble = drawn(turning.tumble_deg_s, turning.tumble_spread_deg_s)
    twist = drawn(turning.twist_deg_s, turning.twist_spread_deg_s)
    kinds = np.arange(n) % len(scene.parts)
    # A box is a plate that always faces the camera.
    flat = np.array([isinstance(part, Box) for part in scene.parts], dtype=bool)[kinds]
    tilt, roll, tumble, twist = (np.where(flat, 0.0, x) for x in (tilt, roll, tumble, twist))
    rest, ratio = _bodies(scene)
    about_depth = _about_third(angle_rad)
    start = about_depth @ _lean(tilt) @ rest[kinds] @ _about_third(roll)
    own = start[:, :, 2]
    rates = spin_rad_s[:, None] * np.array([0.0, 0.0, 1.0])
    rates = rates - tumble[:, None] * about_depth[:, :, 1] + twist[:, None] * own
    left = (1 - ratio[kinds]) * np.sum(rates * own, axis=1)
    return _tops(start, rates - left[:, None] * own, left)


def _bodies(scene: Scene) -> tuple[Array, Array]:
    """Return the rotation at rest and I3 / I1 of each shape."""
    return (
        np.array([rotation_at_rest(part) for part in scene.parts]),
        np.array([inertia_ratio(part) for part in scene.parts]),
    )


def _about_third(angle_rad: Array) -> Array:
    """Return rotations (..., 3, 3) about the third axis, from the first to the second."""
    cos, sin, one, zero = _entries(angle_rad)
    return _matrices([cos, -sin, zero, sin, cos, zero, zero, zero, one])


def _lean(angle_rad: Array) -> Array:
    """Return rotations (..., 3, 3) about the second axis, from the first to the third."""
    cos, sin, one, zero = _entries(angle_rad)
    return _matrices([cos, zero, -sin, zero, one, zero, sin, zero, cos])


def _cross(axis: Array) -> Array:
    """Return the matrices (n, 3, 3) of the cross product with each unit axis (n, 3)."""
    x, y, z = axis.T
    zero = np.zeros_like(x)
    return _matrices([zero, -z, y, z, zero, -x, -y, x, zero])


def _entries(angle_rad: Array) -> tuple[Array, Array, Array, Array]:
    angle = np.asarray(angle_rad, dtype=np.float64)
    return np.cos(angle), np.sin(angle), np.ones_like(angle), np.zeros_like(angle)


def _matrices(rows: list[Array]) -> Array:
    return np.stack(rows, axis=-1).reshape(*rows[0].shape, 3, 3)
