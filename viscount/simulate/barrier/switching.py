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
    start = min(s.start_s for s in group)
    end = max(s.end_s for s in group)
    t = np.linspace(start, end, max(3, int((end - start) / COARSE_S)))
    dark = _lost(beam, paths, group, t) > beam.threshold
    at = np.flatnonzero(dark[1:] != dark[:-1])
    low, high, becomes = t[at], t[at + 1], dark[at + 1]
    for _ in range(24):
        middle = (low + high) / 2
        changed = (_lost(beam, paths, group, middle) > beam.threshold) == becomes
        high = np.where(changed, middle, high)
        low = np.where(changed, low, middle)
    return [(float(x), bool(b)) for x, b in zip(high, becomes, strict=True)]


def _lost(beam: Beam, paths: Paths, group: list[Shadow], t: Array) -> Array:
    """Return the fraction of the beam's light that the parts take at each time."""
    if beam.sees != "projection":
        shares = [_share(beam, paths, shadow, t) for shadow in group]
        taken: Array = np.minimum(np.sum(shares, axis=0), 1.0)
        return taken
    half = beam.width_mm / 2
    fronts, backs = [], []
    for shadow in group:
        place = paths.along(shadow.part, t)[0] - beam.below_lip_mm
        backs.append(np.clip(place - shadow.back_mm, -half, half))
        fronts.append(np.clip(place + shadow.front_mm, -half, half))
    return _union(np.array(backs), np.array(fronts)) / beam.width_mm


def _share(beam: Beam, paths: Paths, shadow: Shadow, t: Array) -> Array:
    """Return what one part alone takes from a spot."""
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
