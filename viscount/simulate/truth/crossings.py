"""When parts cross the counting line: the centroids of their outlines, to a camera at rest."""

from dataclasses import dataclass

import numpy as np

from viscount.simulate.geometry import Upright
from viscount.simulate.physics import Paths
from viscount.simulate.truth.places import Shapes

ROUNDS = 8
CLOSE_PX = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One crossing of the line: when, whether with the fall, and how fast."""

    t_s: float
    downwards: bool
    speed_mm_s: float
    speed_px_s: float
    column: float


def crossings(paths: Paths, up: Upright, shapes: Shapes, line_px: float) -> list[list[Crossing]]:
    """Return each part's crossings of the line, in order of time."""
    found: list[list[Crossing]] = [[] for _ in range(paths.count)]
    arrivals = paths.arrivals(up.along_mm(line_px))
    for part, t_s, downwards in zip(
        arrivals.part.tolist(), arrivals.t_s.tolist(), arrivals.downwards.tolist(), strict=True
    ):
        found[part].append(_refined(paths, up, shapes, up.along_row(line_px), part, t_s, downwards))
    return found


def _refined(
    paths: Paths,
    up: Upright,
    shapes: Shapes,
    line_row: float,
    part: int,
    t_s: float,
    downwards: bool,
) -> Crossing:
    """Go from where the centre of mass passes to where the centroid does, by Newton's rule."""
    speed = speed_px = column = 0.0
    for _ in range(ROUNDS):
        moment = np.array(t_s)
        place, rate = paths.along(part, moment)
        across, depth = paths.across(part, moment), paths.depth(part, moment)
        row, at = up.place(place, across, depth)
        offset = shapes.at(part, t_s).offset
        speed, column = float(rate), float(at) + offset[1]
        # The picture's own speed along the fall, the drift across it included.
        later = up.place(place + rate * 1e-6, paths.across(part, moment + 1e-6), depth)[0]
        speed_px = float(later - row) / 1e-6
        off = float(row) + offset[0] - line_row
        if abs(off) < CLOSE_PX or abs(speed_px) < 1.0:
            break
        t_s -= off / speed_px
    return Crossing(
        t_s=t_s, downwards=downwards, speed_mm_s=speed, speed_px_s=speed_px, column=column
    )
