"""Where parts are at any time, and how they lie there."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.physics.blade import Blade
from viscount.simulate.physics.courses import Courses
from viscount.simulate.physics.gate import Fate, Filled, Gateway
from viscount.simulate.physics.integration import HALVINGS, LONGEST_S
from viscount.simulate.physics.legs import Columns, Legs
from viscount.simulate.physics.reach import Reaches
from viscount.simulate.physics.release import let_go
from viscount.simulate.physics.turning import Tops, tops
from viscount.simulate.scene import Scene

Array = NDArray[np.float64]
Parts = int | NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arrivals:
    """Every passing of a place, in order of time: (m,) parts, times, and whether downwards."""

    part: NDArray[np.intp]
    t_s: Array
    downwards: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Paths:
    """Where each of n parts is at any time.

    Attributes
    ----------
    lip_s, lip_speed_mm_s : (n,), when each is at the lip, and how fast.
    feed_mm_s2 : the acceleration that brings them there.
    across_mm, drift_mm_s, depth_mm : (n,), where they are across the fall at the lip and how
        fast they move there, and where towards the camera.
    angle_rad, spin_rad_s : (n,), how they lie and turn in the plane of the picture.
    still_s : (n,), when each first comes to rest, after which it neither turns nor drifts.
    tops, legs, columns : how they turn, and how they move along the fall.
    fates, bags : what the gate did to each part, and what each bag got; empty without a gate.
    gate : the gate's blade, or None.
    """

    lip_s: Array
    lip_speed_mm_s: Array
    feed_mm_s2: float
    across_mm: Array
    drift_mm_s: Array
    depth_mm: Array
    angle_rad: Array
    spin_rad_s: Array
    still_s: Array
    tops: Tops
    legs: Legs
    columns: Columns
    fates: tuple[Fate, ...]
    bags: tuple[Filled, ...] = ()
    gate: Blade | None = None

    @property
    def count(self) -> int:
        """How many parts there are."""
        return len(self.lip_s)

    def along(self, part: Parts, t_s: Array) -> tuple[Array, Array]:
        """Return place (mm below the lip) and speed (mm/s) of `part` at the times `t_s`.

        Before it leaves, a part comes with the feed, and waits there where the feed is still.
        Past the end of its integrated path it is held there.
        """
        if np.any(self.legs.bent[part]):
            place, speed = self.legs.along(self.columns, part, t_s)
        else:
            place, speed = self.columns.at(part, t_s - self.lip_s[part])
        age = t_s - self.lip_s[part]
        if np.min(age, initial=0.0) >= 0:
            return place, speed
        start = self.lip_speed_mm_s[part]
        rest = -start / self.feed_mm_s2 if self.feed_mm_s2 else -math.inf
        back = np.maximum(age, rest)
        fed = start * back + self.feed_mm_s2 * back**2 / 2
        return (
            np.where(age < 0, fed, place),
            np.where(age < 0, start + self.feed_mm_s2 * back, speed),
        )

    def across(self, part: Parts, t_s: Array) -> Array:
        """Return the place across the fall, mm from the middle lane."""
        across: Array = self.across_mm[part] + self.drift_mm_s[part] * self._free(part, t_s)
        return across

    def depth(self, part: Parts, t_s: Array) -> Array:
        """Return the place towards the camera, mm from the plane of the lanes."""
        depth: Array = self.depth_mm[part] + np.zeros_like(t_s)
        return depth

    def rotation(self, part: Parts, t_s: Array) -> Array:
        """Return the body's axes as columns in (along, across, depth), (..., 3, 3)."""
        return self.tops.rotation(part, self._free(part, t_s))

    def angle(self, part: Parts, t_s: Array) -> Array:
        """Return the angle in the plane of the picture in rad; 0 with the axis along the fall.

        It knows of `angle` and `spin` alone; `rotation` knows of everything.
        """
        angle: Array = self.angle_rad[part] + self.spin_rad_s[part] * self._free(part, t_s)
        return angle

    def blade(self, t_s: Array | float) -> Array:
        """Return the share of the stream that the gate covers, 0 to 1, at the times `t_s`.

        It comes in from the left; `gate` says between what bounds.
        """
        return self.gate.share(t_s) if self.gate else np.zeros_like(np.asarray(t_s, np.float64))

    def arrival(self, along_mm: float | Array) -> Array:
        """Return when each part's centre of mass first arrives at `along_mm`; NaN where never."""
        goal = np.broadcast_to(np.asarray(along_mm, dtype=np.float64), self.lip_s.shape)
        below: Array = np.fmin.reduce(self._passings(goal), axis=1)
        return below

    def arrivals(self, along_mm: float) -> Arrivals:
        """Return every passing of `along_mm`: parts that bounce pass a place three times."""
        t = self._passings(np.full(self.count, float(along_mm)))
        part, leg = np.nonzero(np.isfinite(t))
        order = np.argsort(t[part, leg], kind="stable")
        part, leg = part[order], leg[order]
        return Arrivals(part=part, t_s=t[part, leg], downwards=self.legs.sign[part, leg] > 0)

    def _passings(self, goal: Array) -> Array:
        """Return when each leg of each part passes that part's goal, (n, legs); NaN where never."""
        t = self.legs.crossings(self.columns, goal)
        if np.any(goal < 0):
            t[:, 0] = np.where(goal < 0, self._fed(goal), t[:, 0])
        return t

    def _free(self, part: Parts, t_s: Array) -> Array:
        """Return how long `part` has moved freely at the times `t_s`."""
        free: Array = np.minimum(t_s, self.still_s[part]) - self.lip_s[part]
        return free

    def _fed(self, goal: Array) -> Array:
        """Return when each part passes a place above the lip with the feed; NaN where never."""
        parts = np.arange(self.count)
        high, low = self.lip_s, self.lip_s - LONGEST_S
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            beyond = self.along(parts, middle)[0] >= goal
            high, low = np.where(beyond, middle, high), np.where(beyond, low, middle)
        there = np.abs(self.along(parts, high)[0] - goal) < 1e-3
        return np.where(there, high, np.nan)


def paths(scene: Scene, until_mm: float) -> Paths:
    """Integrate every part of `scene` from the lip until it is `until_mm` below it.

    Raises
    ------
    UsageError
        Where a part would never get there.
    """
    rng = np.random.default_rng(np.random.SeedSequence(scene.seed, spawn_key=(0,)))
    more = np.random.default_rng(np.random.SeedSequence(scene.seed, spawn_key=(2,)))
    n = scene.count
    free = let_go(scene, rng)
    lanes, turning = scene.lanes, scene.turning
    lane = np.resize(np.array(lanes.positions_mm), n) + free.beside_mm
    angle = turning.angle_deg + turning.angle_spread_deg * rng.standard_normal(n)
    spin = turning.spin_deg_s + turning.spin_spread_deg_s * rng.standard_normal(n)
    across = lane + lanes.spread_mm * rng.standard_normal(n)
    drift = lanes.drift_spread_mm_s * rng.standard_normal(n)
    depth = lanes.depth_spread_mm * more.standard_normal(n)
    turns = tops(scene, np.radians(angle), np.radians(spin), more)
    if scene.gate:
        until_mm = max(until_mm, scene.gate.below_lip_mm + scene.gate.thickness_mm)
    courses = Courses(scene, free, until_mm)
    gateway = None
    if scene.gate:
        reaches = Reaches(scene, turns, free.lip_s)
        gateway = Gateway(scene, scene.gate, courses, reaches, free, (across, drift))
    legs = courses.gathered()
    found = Paths(
        lip_s=free.lip_s,
        lip_speed_mm_s=free.speed_mm_s,
        feed_mm_s2=free.feed_mm_s2,
        across_mm=across,
        drift_mm_s=drift,
        depth_mm=depth,
        angle_rad=np.radians(angle),
        spin_rad_s=np.radians(spin),
        still_s=np.array([courses.still_from(k) for k in range(n)]),
        tops=turns,
        legs=legs,
        columns=courses.columns,
        fates=tuple(Fate(part=k) for k in range(n)),
    )
    if scene.gate is None or gateway is None:
        return found
    return replace(
        found,
        fates=gateway.fates(found.arrival(scene.gate.below_lip_mm)),
        bags=gateway.bags(),
        gate=gateway.blade,
    )
