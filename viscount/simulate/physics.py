"""The paths of parts, integrated step by step from their accelerations.

No closed form of the fall is used here, so that what is judged by these paths shares no
formula with them. One fixed-step Runge-Kutta scheme of fourth order serves the sliding column
and the fall; between steps a cubic through places and speeds is exact where the acceleration
is steady.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.errors import UsageError
from viscount.simulate.scene import Belt, Column, Escapement, FreeFall, Poisson, Scene, Times

Array = NDArray[np.float64]
Law = Callable[[Array], Array]

STEP_S = 5e-4
LONGEST_S = 60.0


@dataclass(frozen=True, slots=True, eq=False)
class Paths:
    """Where each of n parts is at any time.

    `along_mm` and `speed_mm_s` are (steps, n), every `STEP_S` from each part's own moment at
    the lip, `lip_s`. All else is (n,).
    """

    lip_s: Array
    lip_speed_mm_s: Array
    feed_mm_s2: float
    along_mm: Array
    speed_mm_s: Array
    across_mm: Array
    drift_mm_s: Array
    angle_rad: Array
    spin_rad_s: Array

    @property
    def count(self) -> int:
        """How many parts there are."""
        return len(self.lip_s)

    def along(self, part: int | NDArray[np.intp], t_s: Array) -> tuple[Array, Array]:
        """Return place (mm below the lip) and speed (mm/s) of `part` at the times `t_s`.

        Before it leaves, a part comes with the feed, and waits there where the feed is still.
        Past the end of its integrated path it is held there.
        """
        age = t_s - self.lip_s[part]
        steps = age / STEP_S
        i = np.clip(np.floor(steps).astype(np.intp), 0, len(self.along_mm) - 2)
        place, speed = _cubic(
            np.minimum(steps - i, 1.0),
            self.along_mm[i, part],
            self.along_mm[i + 1, part],
            self.speed_mm_s[i, part],
            self.speed_mm_s[i + 1, part],
        )
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

    def across(self, part: int | NDArray[np.intp], t_s: Array) -> Array:
        """Return the place across the fall, mm from the middle lane."""
        across: Array = self.across_mm[part] + self.drift_mm_s[part] * (t_s - self.lip_s[part])
        return across

    def angle(self, part: int | NDArray[np.intp], t_s: Array) -> Array:
        """Return the angle in rad, 0 where the part's axis lies along the fall."""
        angle: Array = self.angle_rad[part] + self.spin_rad_s[part] * (t_s - self.lip_s[part])
        return angle

    def arrival(self, along_mm: float | Array) -> Array:
        """Return when each part's centroid arrives at `along_mm`, in s; NaN where it never does."""
        goal = np.broadcast_to(np.asarray(along_mm, dtype=np.float64), self.lip_s.shape)
        if not self.count:
            return np.empty(0)
        below = np.sum(self.along_mm < goal, axis=0)
        i = np.clip(below - 1, 0, len(self.along_mm) - 2)
        parts = np.arange(self.count)
        low = self.lip_s + i * STEP_S
        high = low + STEP_S
        # Above the lip a part comes with the feed: search back from the lip.
        high = np.where(goal < 0, self.lip_s, high)
        low = np.where(goal < 0, self.lip_s - LONGEST_S, low)
        for _ in range(60):
            middle = (low + high) / 2
            beyond = self.along(parts, middle)[0] >= goal
            high = np.where(beyond, middle, high)
            low = np.where(beyond, low, middle)
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
    n = scene.count
    lip_s, lip_speed, feed = _release(scene, rng)
    place, speed = _integrate(_law(scene), lip_speed, until_mm)
    lanes, turning = scene.lanes, scene.turning
    lane = np.resize(np.array(lanes.positions_mm), n)
    angle = turning.angle_deg + turning.angle_spread_deg * rng.standard_normal(n)
    spin = turning.spin_deg_s + turning.spin_spread_deg_s * rng.standard_normal(n)
    return Paths(
        lip_s=lip_s + scene.lead_in_s,
        lip_speed_mm_s=lip_speed,
        feed_mm_s2=feed,
        along_mm=place,
        speed_mm_s=speed,
        across_mm=lane + lanes.spread_mm * rng.standard_normal(n),
        drift_mm_s=lanes.drift_spread_mm_s * rng.standard_normal(n),
        angle_rad=np.radians(angle),
        spin_rad_s=np.radians(spin),
    )


def _release(scene: Scene, rng: np.random.Generator) -> tuple[Array, Array, float]:
    """Return time and speed of each part at the lip, and the acceleration that brings it there."""
    release, n = scene.release, scene.count
    times: Array
    speed = np.full(n, scene.lip_speed_mm_s)
    feed = 0.0
    match release:
        case Column():
            times, speed = _column(release)
            times = times + release.jitter_ms * 1e-3 * rng.standard_normal(n)
            feed = release.acceleration_mm_s2
        case Escapement():
            times = np.arange(n, dtype=np.float64) * (release.interval_ms * 1e-3)
            times += release.jitter_ms * 1e-3 * rng.standard_normal(n)
        case Poisson():
            free = release.mean_interval_ms - release.least_interval_ms
            intervals = release.least_interval_ms + free * rng.standard_exponential(n)
            times = (np.cumsum(intervals) - intervals[:1].sum()) * 1e-3
        case Times():
            times = np.array(release.times_ms, dtype=np.float64) * 1e-3
    if isinstance(scene.motion, Belt):
        speed, feed = np.full(n, scene.motion.speed_mm_s), 0.0
    spread = 1 + scene.lip_speed_spread_percent / 100 * rng.standard_normal(n)
    return times, speed * np.maximum(spread, 0.0), feed


def _column(column: Column) -> tuple[Array, Array]:
    """Let the column slide, and return when each part passes the lip, and how fast."""
    if not column.count:
        return np.empty(0), np.empty(0)

    def slide(speed: Array) -> Array:
        return np.full_like(speed, column.acceleration_mm_s2)

    passed = np.linspace(column.pitch_mm, column.pitch_mm * column.count, column.count)
    place, speed = _integrate(slide, np.zeros(1), float(passed[-1]))
    single = Paths(
        lip_s=np.zeros(column.count),
        lip_speed_mm_s=np.zeros(column.count),
        feed_mm_s2=0.0,
        along_mm=np.repeat(place, column.count, axis=1),
        speed_mm_s=np.repeat(speed, column.count, axis=1),
        across_mm=np.zeros(column.count),
        drift_mm_s=np.zeros(column.count),
        angle_rad=np.zeros(column.count),
        spin_rad_s=np.zeros(column.count),
    )
    times = single.arrival(passed)
    return times, single.along(np.arange(column.count), times)[1]


def _law(scene: Scene) -> Law:
    """Return the acceleration along the fall as a function of the speed."""
    motion = scene.motion
    if isinstance(motion, Belt):
        return np.zeros_like
    if isinstance(motion, FreeFall):
        gravity, drag = motion.gravity_mm_s2, motion.drag_per_m * 1e-3
        return lambda speed: gravity - drag * speed * np.abs(speed)
    pull = motion.acceleration_mm_s2
    return lambda speed: np.full_like(speed, pull)


def _integrate(law: Law, speed: Array, until_mm: float) -> tuple[Array, Array]:
    """Step from the lip until every part is past `until_mm`; return places and speeds."""
    place, speed = np.zeros_like(speed), speed.astype(np.float64)
    places, speeds = [place], [speed]
    h = STEP_S
    while len(places) < 2 or np.min(place, initial=math.inf) < until_mm:
        k1 = law(speed)
        k2 = law(speed + h / 2 * k1)
        k3 = law(speed + h / 2 * k2)
        k4 = law(speed + h * k3)
        place = place + h * speed + h**2 / 6 * (k1 + k2 + k3)
        speed = speed + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        if len(places) * h > LONGEST_S or np.min(speed, initial=math.inf) < 0:
            raise UsageError(
                f"a part stops or takes over {LONGEST_S:.0f} s to fall {until_mm:.0f} mm",
                where="motion",
                remedy="give it more speed at the lip, or a steeper slide",
            )
        places.append(place)
        speeds.append(speed)
    return np.array(places), np.array(speeds)


def _cubic(s: Array, y0: Array, y1: Array, v0: Array, v1: Array) -> tuple[Array, Array]:
    """Return the Hermite cubic through places and speeds, and its slope, at step fraction s."""
    h = STEP_S
    d, m0, m1 = y1 - y0, v0 * h, v1 * h
    a, b = m0 + m1 - 2 * d, 3 * d - 2 * m0 - m1
    return y0 + s * (m0 + s * (b + s * a)), (m0 + s * (2 * b + s * 3 * a)) / h
