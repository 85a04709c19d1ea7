"""The edges that a light barrier reports, from the light that the outlines take from it.

The beam is blocked while it has lost more than the fraction `threshold` of its light. A part of
length L at speed v therefore shows for (L + w (1 - 2 threshold)) / v where it is at least as
long as the beam is wide.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.physics import Paths
from viscount.simulate.scene import Beam, Scene
from viscount.simulate.silhouette import Silhouette, silhouette
from viscount.simulate.truth import extent

Array = NDArray[np.float64]

COARSE_S = 2e-5
GRID_MM = 0.01
CHORDS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamEdge:
    """One change of the beam, on the beam's own clock, and its true time on the capture clock."""

    seq: int
    device_t_ns: int
    t_ns: int
    blocked: bool


@dataclass(frozen=True, slots=True)
class _Shadow:
    """One part at the beam, from its first to its last touch.

    It reaches `back_mm` and `front_mm` from its centroid. `taken` is the light lost up to each
    of `grid_mm`, which is measured from the centroid too.
    """

    part: int
    start_s: float
    end_s: float
    back_mm: float
    front_mm: float
    grid_mm: Array
    taken: Array


def edges(scene: Scene, paths: Paths, until_s: float) -> tuple[BeamEdge, ...]:
    """Return every change of the beam from the first frame's time until `until_s`."""
    beam = scene.beam
    if beam is None:
        return ()
    shadows = _shadows(scene, beam, paths)
    changes: list[tuple[float, bool]] = []
    for group in _together(shadows):
        changes += _changes(beam, paths, group)
    kept = [c for c in _switched(beam, changes) if 0 <= c[0] <= until_s]
    return tuple(
        BeamEdge(
            seq=seq,
            device_t_ns=round(device_s(beam, t) * 1e9),
            t_ns=round(t * 1e9),
            blocked=blocked,
        )
        for seq, (t, blocked) in enumerate(kept, start=1)
    )


def device_s(beam: Beam, t_s: float) -> float:
    """Turn a time on the capture clock into the beam's own."""
    return beam.offset_s + t_s * (1 + beam.drift_ppm * 1e-6)


def write_beam_log(path: Path, beam: Beam, edges: tuple[BeamEdge, ...], until_s: float) -> None:
    """Write edges as a beam log, whole from the first frame's time until `until_s`."""
    first_blocked = bool(edges) and not edges[0].blocked
    rows = [f"{device_s(beam, 0.0):.6f},{int(first_blocked)},0,0"]
    rows += [f"{e.device_t_ns / 1e9:.6f},{int(e.blocked)},{e.seq},0" for e in edges]
    end = f"# end {device_s(beam, until_s):.6f}"
    path.write_text("\n".join(["time_s,blocked,seq,boot", *rows, end, ""]), encoding="utf-8")


def _shadows(scene: Scene, beam: Beam, paths: Paths) -> list[_Shadow]:
    """Return each part's shadow, in order of arrival; a turning part is taken as it is there."""
    each = np.arange(paths.count)
    middle_s = paths.arrival(beam.below_lip_mm)
    angles = paths.angle(each, middle_s)
    beside = beam.across_mm - paths.across(each, middle_s)
    cells = [silhouette(scene.part(k), 1 / GRID_MM) for k in range(paths.count)]
    reach = np.array([extent(c, a)[:2] for c, a in zip(cells, angles, strict=True)]) * GRID_MM
    reach = reach.reshape(-1, 2)
    half = beam.width_mm / 2
    first_s = paths.arrival(beam.below_lip_mm - reach[:, 1] - half)
    last_s = paths.arrival(beam.below_lip_mm + reach[:, 0] + half)
    shadows = []
    for k in np.flatnonzero(np.isfinite(middle_s)):
        back, front = float(reach[k, 0]), float(reach[k, 1])
        grid = np.arange(-back - GRID_MM, front + 2 * GRID_MM, GRID_MM)
        opaque = _opaque(beam, cells[k], float(angles[k]), grid + GRID_MM / 2, float(beside[k]))
        taken = np.concatenate([[0.0], np.cumsum(opaque[:-1])]) * GRID_MM
        # A part that waits at the lip touches the beam from its release on.
        first = paths.lip_s[k] if np.isnan(first_s[k]) else first_s[k]
        shadows.append(_Shadow(int(k), float(first), float(last_s[k]), back, front, grid, taken))
    return sorted(shadows, key=lambda s: s.start_s)


def _opaque(
    beam: Beam, cells: Silhouette, angle_rad: float, along_mm: Array, beside_mm: float
) -> Array:
    """Return the share of a spot's breadth that a part fills at each place along it.

    `cells` is its outline in units of the grid, so that a unit square is one cell.
    """
    if beam.sees == "projection":
        return np.ones_like(along_mm)
    chords = beam.width_mm * ((np.arange(CHORDS) + 0.5) / CHORDS - 0.5)
    along = along_mm[:, None] / GRID_MM
    across = (beside_mm + chords[None, :]) / GRID_MM
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    cover = cells.cover(cos * along + sin * across, cos * across - sin * along)
    share: Array = np.asarray(cover, dtype=np.float64).mean(axis=1)
    return share


def _together(shadows: list[_Shadow]) -> list[list[_Shadow]]:
    """Gather the shadows that may fall on the beam at the same time."""
    groups: list[list[_Shadow]] = []
    end_s = -np.inf
    for shadow in shadows:
        if shadow.start_s > end_s:
            groups.append([])
        groups[-1].append(shadow)
        end_s = max(end_s, shadow.end_s)
    return groups


def _changes(beam: Beam, paths: Paths, group: list[_Shadow]) -> list[tuple[float, bool]]:
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


def _lost(beam: Beam, paths: Paths, group: list[_Shadow], t: Array) -> Array:
    """Return the fraction of the beam's light that the parts take at each time."""
    if beam.sees == "spot":
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


def _share(beam: Beam, paths: Paths, shadow: _Shadow, t: Array) -> Array:
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


def _switched(beam: Beam, changes: list[tuple[float, bool]]) -> list[tuple[float, bool]]:
    """Delay each change as the sensor does; one that reverts within its delay is not reported."""
    out: list[tuple[float, bool]] = []
    state = False
    for i, (t, blocked) in enumerate(changes):
        delay = (beam.operate_us if blocked else beam.release_us) * 1e-6
        held = i + 1 == len(changes) or changes[i + 1][0] - t >= delay
        if held and blocked != state:
            out.append((t + delay, blocked))
            state = blocked
    return out
