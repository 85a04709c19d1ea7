"""The shadows of parts on the beam, by their true outlines as the beam sees them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.barrier.visits import Stretch, Visit, visits
from viscount.simulate.physics import Paths
from viscount.simulate.scene import Beam, Scene
from viscount.simulate.solids import Projection, projected
from viscount.simulate.solids.body import body

Array = NDArray[np.float64]

GRID_MM = 0.01
CHORDS = 9


@dataclass(frozen=True, slots=True, eq=False)
class Shadow:
    """One part at the beam, each time that it comes near.

    It is there from `start_s` to `end_s` (inf where it stays), and moves in the stretches of
    time `moving`. It reaches `back_mm` and `front_mm` from its centre of mass. `taken` is the
    light lost up to each of `grid_mm`, which is measured from the centre of mass too.
    """

    part: int
    start_s: float
    end_s: float
    moving: tuple[Stretch, ...]
    back_mm: float
    front_mm: float
    grid_mm: Array
    taken: Array


def shadows(scene: Scene, beam: Beam, paths: Paths) -> list[Shadow]:
    """Return the shadows of all parts, in order of arrival.

    A part that bounces may come several times. A part that turns is taken as it lies when its
    centre of mass is first in the beam, or nearest to it.
    """
    around_mm = max(body(part).radius for part in scene.parts) + beam.width_mm / 2
    found = []
    for visit in visits(paths, beam.below_lip_mm, around_mm):
        view = _seen(scene, beam, paths, visit)
        back, front = view.reach(-1.0, 0.0) * GRID_MM, view.reach(1.0, 0.0) * GRID_MM
        grid = np.arange(-back - GRID_MM, front + 2 * GRID_MM, GRID_MM)
        beside = _beside(beam, paths, visit)
        opaque = _opaque(beam, view, grid + GRID_MM / 2, beside)
        taken = np.concatenate([[0.0], np.cumsum(opaque[:-1])]) * GRID_MM
        found.append(
            Shadow(
                part=visit.part,
                start_s=visit.start_s,
                end_s=visit.end_s,
                moving=visit.moving,
                back_mm=back,
                front_mm=front,
                grid_mm=grid,
                taken=taken,
            )
        )
    return sorted(found, key=lambda shadow: shadow.start_s)


def _seen(scene: Scene, beam: Beam, paths: Paths, visit: Visit) -> Projection:
    """Return a part as the beam sees it: along the camera's axis, or across the fall."""
    rotation = paths.rotation(visit.part, np.array(visit.nearest_s))
    if beam.sees != "spot":
        rotation = rotation[[0, 2, 1]]
    return projected(scene.part(visit.part), rotation, 1 / GRID_MM)


def _beside(beam: Beam, paths: Paths, visit: Visit) -> float:
    """Return how far beside the part's centre of mass the beam passes."""
    moment = np.array(visit.nearest_s)
    if beam.sees == "spot":
        return beam.across_mm - float(paths.across(visit.part, moment))
    return beam.depth_mm - float(paths.depth(visit.part, moment))


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
    cover = view.cover(cos * along + sin * beside, cos * beside - sin * along)
    share: Array = np.asarray(cover, dtype=np.float64).mean(axis=1)
    return share
