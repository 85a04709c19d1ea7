"""When the beam is blocked, from the light that the shadows take from it.

It is blocked while it has lost more than the fraction `threshold` of its light. A part of
length L at speed v therefore shows for (L + w (1 - 2 threshold)) / v where it is at least as
long as the beam is wide.
"""

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.barrier.shadows import Shadow, shadows
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Beam, Scene

Array = NDArray[np.float64]
Change = tuple[float, bool]

COARSE_S = 2e-5
"""What comes and goes within this time may be missed: 0.03 mm at 1.5 m/s."""


def switched(scene: Scene, paths: Paths) -> list[Change]:
    """Return each change of the sensor's output: its time on the capture clock, and to what."""
    beam = scene.beam
    if beam is None:
        return []
    changes: list[Change] = []
    for group in _together(shadows(scene, beam, paths)):
        changes += _changes(beam, paths, group)
    return _delayed(beam, changes)


def blocked_s(scene: Scene, paths: Paths) -> Array:
    """Return the stretches of time, (n, 2), in which the sensor says blocked."""
    changes = switched(scene, paths)
    starts = [t for t, blocked in changes if blocked]
    ends = [t for t, blocked in changes if not blocked]
    ends += [np.inf] * (len(starts) - len(ends))
    return np.column_stack([starts, ends]) if starts else np.empty((0, 2))


def _together(shadows: list[Shadow]) -> list[list[Shadow]]:
    """Gather the shadows that may fall on the beam at the same time."""
    groups: list[list[Shadow]] = []
    end_s = -np.inf
    for shadow in shadows:
        if shadow.start_s > end_s:
            groups.append([])
        groups[-1].append(shadow)
        end_s = max(end_s, shadow.end_s)
    return groups


def _changes(beam: Beam, paths: Paths, group: list[Shadow]) -> list[Change]:
    """Return when the lost light passes the threshold, each refined by halving."""
    looks = [_steps(*stretch) for shadow in group for stretch in shadow.moving]
    if not looks:
        return []
    t = np.unique(np.concatenate(looks))
    # Before the first comes near, the beam is clear.
    t = np.append(t[0], t)
    dark = _lost(beam, paths, group, t) > beam.threshold
    dark[0] = False
    at = np.flatnonzero(dark[1:] != dark[:-1])
    low, high, becomes = t[at], t[at + 1], dark[at + 1]
    for _ in range(24):
        middle = (low + high) / 2
        changed = (_lost(beam, paths, group, middle) > beam.threshold) == becomes
        high = np.where(changed, middle, high)
        low = np.where(changed, low, middle)
    return [(float(x), bool(b)) for x, b in zip(high, becomes, strict=True)]


def _steps(start_s: float, end_s: float) -> Array:
    """Return moments from start to end, close enough to miss nothing."""
    return np.linspace(start_s, end_s, max(3, int((end_s - start_s) / COARSE_S)))


def _lost(beam: Beam, paths: Paths, group: list[Shadow], t: Array) -> Array:
    """Return the fraction of the beam's light that the parts take at each of rising times."""
    half = beam.width_mm / 2
    if beam.sees != "projection":
        taken = np.zeros_like(t)
        for shadow in group:
            there = _there(shadow, t)
            taken[there] += _share(beam, paths, shadow, t[there])
        return np.minimum(taken, 1.0)
    backs = np.full((len(group), len(t)), -half)
    fronts = backs.copy()
    for i, shadow in enumerate(group):
        there = _there(shadow, t)
        place = paths.along(shadow.part, t[there])[0] - beam.below_lip_mm
        backs[i, there] = np.clip(place - shadow.back_mm, -half, half)
        fronts[i, there] = np.clip(place + shadow.front_mm, -half, half)
    return _union(backs, fronts) / beam.width_mm


def _there(shadow: Shadow, t: Array) -> slice:
    """Return which of rising times fall into a part's stay at the beam."""
    first, last = np.searchsorted(t, [shadow.start_s, shadow.end_s])
    return slice(int(first), int(last) + 1)


def _share(beam: Beam, paths: Paths, shadow: Shadow, t: Array) -> Array:
    """Return what one part alone takes from a ray or a spot."""
    place = beam.below_lip_mm - paths.along(shadow.part, t)[0]
    half = beam.width_mm / 2
    up_to = np.interp(place + half, shadow.grid_mm, shadow.taken)
    share: Array = up_to - np.interp(place - half, shadow.grid_mm, shadow.taken)
    return share / beam.width_mm


def _union(low: Array, high: Array) -> Array:
    """Return the length of the union of the intervals in each column."""
    order = np.argsort(low, axis=0)
    low = np.take_along_axis(low, order, axis=0)
    high = np.maximum.accumulate(np.take_along_axis(high, order, axis=0), axis=0)
    before = np.vstack([low[:1], high[:-1]])
    length: Array = np.maximum(high - np.maximum(low, before), 0.0).sum(axis=0)
    return length


def _delayed(beam: Beam, changes: list[Change]) -> list[Change]:
    """Delay each change as the sensor does; one that reverts within its delay is not reported."""
    out: list[Change] = []
    state = False
    for i, (t, blocked) in enumerate(changes):
        delay = (beam.operate_us if blocked else beam.release_us) * 1e-6
        held = i + 1 == len(changes) or changes[i + 1][0] - t >= delay
        if held and blocked != state:
            out.append((t + delay, blocked))
            state = blocked
    return out
