"""The shadows of parts on the beam, by their true outlines as the beam sees them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.physics import Paths
from viscount.simulate.scene import Beam, Scene
from viscount.simulate.solids import Projection, projected

Array = NDArray[np.float64]

GRID_MM = 0.01
CHORDS = 9


@dataclass(frozen=True, slots=True, eq=False)
class Shadow:
    """One part at the beam, from its first to its last touch.

    It reaches `back_mm` and `front_mm` from its centre of mass. `taken` is the light lost up to
    each of `grid_mm`, which is measured from the centre of mass too.
    """

    part: int
    start_s: float
    end_s: float
    back_mm: float
    front_mm: float
    grid_mm: Array
    taken: Array


def shadows(scene: Scene, beam: Beam, paths: Paths) -> list[Shadow]:
    """Return each part's shadow, in order of arrival; a turning part is taken as it is there."""
    each = np.arange(paths.count)
    middle_s = paths.arrival(beam.below_lip_mm)
    arrived = np.flatnonzero(np.isfinite(middle_s))
    views = {int(k): _seen(scene, beam, paths, int(k), float(middle_s[k])) for k in arrived}
    reach = np.zeros((paths.count, 2))
    for k, view in views.items():
        reach[k] = view.reach(-1.0, 0.0) * GRID_MM, view.reach(1.0, 0.0) * GRID_MM
    half = beam.width_mm / 2
    first_s = paths.arrival(beam.below_lip_mm - reach[:, 1] - half)
    last_s = paths.arrival(beam.below_lip_mm + reach[:, 0] + half)
    beside = _beside(beam, paths, each, middle_s)
    found = []
    for k, view in views.items():
        back, front = float(reach[k, 0]), float(reach[k, 1])
        grid = np.arange(-back - GRID_MM, front + 2 * GRID_MM, GRID_MM)
        opaque = _opaque(beam, view, grid + GRID_MM / 2, float(beside[k]))
        taken = np.concatenate([[0.0], np.cumsum(opaque[:-1])]) * GRID_MM
        # A part that waits at the lip touches the beam from its release on.
        first = paths.lip_s[k] if np.isnan(first_s[k]) else first_s[k]
        last = paths.still_s[k] if np.isnan(last_s[k]) else last_s[k]
        found.append(Shadow(k, float(first), float(last), back, front, grid, taken))
    return sorted(found, key=lambda s: s.start_s)


def _seen(scene: Scene, beam: Beam, paths: Paths, k: int, t_s: float) -> Projection:
    """Return part `k` as the beam sees it: along the camera's axis, or across the fall."""
    rotation = paths.rotation(k, np.array(t_s))
    if beam.sees != "spot":
        rotation = rotation[[0, 2, 1]]
    return projected(scene.part(k), rotation, 1 / GRID_MM)


def _beside(beam: Beam, paths: Paths, each: NDArray[np.intp], t_s: Array) -> Array:
    """Return how far beside each part's centre of mass the beam passes."""
    if beam.sees == "spot":
        return beam.across_mm - paths.across(each, t_s)
    return beam.depth_mm - paths.depth(each, t_s)


def _opaque(beam: Beam, view: Projection, along_mm: Array, beside_mm: float) -> Array:
    """Return the share of the beam's breadth that a part fills at each place along it.

    The outline is in units of the grid, so that a unit square is one cell.
    """
    if beam.sees == "projection":
        return np.ones_like(along_mm)
    breadth = beam.breadth_mm or beam.width_mm
    chords = breadth * ((np.arange(CHORDS) + 0.5) / CHORDS - 0.5)
    along = along_mm[:, None] / GRID_MM
    beside = (beside_mm + chords[None, :]) / GRID_MM
    cos, sin = np.cos(view.angle_rad), np.sin(view.angle_rad)
    cover = view.outline.cover(cos * along + sin * beside, cos * beside - sin * along)
    share: Array = np.asarray(cover, dtype=np.float64).mean(axis=1)
    return share
