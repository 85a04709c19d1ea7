"""When parts are at the lip, how fast, and where across the fall."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.physics.integration import STEP_S, cubic, fallen, reached, steady
from viscount.simulate.scene import Belt, Clumps, Column, Escapement, Poisson, Release, Scene, Times

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class LetGo:
    """Each part at the lip: (n,) times on the capture clock, speeds, and places across.

    `feed_mm_s2` is the acceleration that brings parts there; `beside_mm` how far off the middle
    of their group they lie.
    """

    lip_s: Array
    speed_mm_s: Array
    feed_mm_s2: float
    beside_mm: Array


def let_go(scene: Scene, rng: np.random.Generator) -> LetGo:
    """Let every pour of `scene` go; what is random is drawn anew for each."""
    release, pours, n = scene.release, len(scene.pours_ms), scene.count
    speed, feed = np.full(n, scene.lip_speed_mm_s), 0.0
    regular = _regular(release)
    if isinstance(release, Column):
        regular, own = _column(release)
        speed, feed = np.tile(own, pours), release.acceleration_mm_s2
    times = np.concatenate(
        [start_ms * 1e-3 + regular + _strayed(release, rng) for start_ms in scene.pours_ms]
    )
    if isinstance(scene.motion, Belt):
        speed, feed = np.full(n, scene.motion.speed_mm_s), 0.0
    spread = 1 + scene.lip_speed_spread_percent / 100 * rng.standard_normal(n)
    return LetGo(
        lip_s=times + scene.lead_in_s,
        speed_mm_s=speed * np.maximum(spread, 0.0),
        feed_mm_s2=feed,
        beside_mm=np.tile(_beside(release), pours),
    )


def _regular(release: Release) -> Array:
    """Return when each part of one pour would be at the lip by rule, in s after its start."""
    match release:
        case Escapement():
            return np.arange(release.count, dtype=np.float64) * (release.interval_ms * 1e-3)
        case Clumps():
            group, within = _places(release)
            return (group * release.interval_ms + within * release.within_ms) * 1e-3
        case Times():
            return np.array(release.times_ms, dtype=np.float64) * 1e-3
        case Column() | Poisson():
            return np.zeros(release.count)


def _strayed(release: Release, rng: np.random.Generator) -> Array | float:
    """Draw how much later each part of one pour is than that, in s."""
    match release:
        case Column() | Escapement():
            late: Array = release.jitter_ms * 1e-3 * rng.standard_normal(release.count)
            return late
        case Clumps():
            jitter = release.jitter_ms * 1e-3 * rng.standard_normal(release.groups)
            of_group: Array = jitter[_places(release)[0]]
            return of_group
        case Poisson():
            free = release.mean_interval_ms - release.least_interval_ms
            intervals = release.least_interval_ms + free * rng.standard_exponential(release.count)
            random: Array = (np.cumsum(intervals) - intervals[:1].sum()) * 1e-3
            return random
        case Times():
            return 0.0


def _places(clumps: Clumps) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the group of each part, and its number in it."""
    sizes = np.array(clumps.size_of, dtype=np.intp)
    group = np.repeat(np.arange(len(sizes)), sizes)
    within = np.array([i for size in sizes for i in range(size)], dtype=np.intp)
    return group, within


def _beside(release: Release) -> Array:
    """Return how far off the middle of its group across the fall each part of a pour lies."""
    if not isinstance(release, Clumps):
        return np.zeros(release.count)
    group, within = _places(release)
    middle = (np.array(release.size_of, dtype=np.float64)[group] - 1) / 2
    offset: Array = (within - middle) * release.beside_mm
    return offset


def _column(column: Column) -> tuple[Array, Array]:
    """Let the column slide, and return when each part passes the lip, and how fast."""
    if not column.count:
        return np.empty(0), np.empty(0)
    passed = np.linspace(column.pitch_mm, column.pitch_mm * column.count, column.count)
    slide = steady(column.acceleration_mm_s2)
    places, speeds = fallen(slide, np.zeros(1), float(passed[-1]))
    n = column.count
    places, speeds = np.repeat(places, n, axis=1), np.repeat(speeds, n, axis=1)
    steps = reached(places, speeds, passed)
    i, each = np.minimum(steps.astype(np.intp), len(places) - 2), np.arange(n)
    ends = (places[i, each], places[i + 1, each], speeds[i, each], speeds[i + 1, each])
    return steps * STEP_S, cubic(steps - i, *ends)[1]
