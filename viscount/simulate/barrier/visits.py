"""When each part is near the beam, and for how long."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.physics import Paths

Array = NDArray[np.float64]
Stretch = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Visit:
    """One part near the beam, from `start_s` to `end_s`; inf where it stays there.

    `nearest_s` is when its centre of mass is first in the beam, or else nearest to it. In
    `moving` are the stretches of time in which it does not lie still.
    """

    part: int
    start_s: float
    end_s: float
    nearest_s: float
    moving: tuple[Stretch, ...]


def visits(paths: Paths, below_lip_mm: float, around_mm: float) -> list[Visit]:
    """Return every visit of a part's centre of mass to what is `around_mm` of a place."""
    passings: list[list[tuple[float, bool]]] = [[] for _ in range(paths.count)]
    for place, inwards in ((below_lip_mm - around_mm, True), (below_lip_mm + around_mm, False)):
        found = paths.arrivals(place)
        for k, t_s, down in zip(found.part, found.t_s, found.downwards, strict=True):
            passings[k].append((float(t_s), bool(down) is inwards))
    middles: list[list[float]] = [[] for _ in range(paths.count)]
    found = paths.arrivals(below_lip_mm)
    for k, t_s in zip(found.part, found.t_s, strict=True):
        middles[k].append(float(t_s))
    # At the lip already: a part that waits there is there from its release on.
    at_lip = abs(below_lip_mm) <= around_mm
    return [
        _visit(paths, k, start, end, middles[k])
        for k in range(paths.count)
        for start, end in _stays(sorted(passings[k]), float(paths.lip_s[k]), at_lip=at_lip)
    ]


def _stays(passings: list[tuple[float, bool]], lip_s: float, *, at_lip: bool) -> list[Stretch]:
    """Return from when to when a part is inside, from its passings inwards and outwards."""
    first_out = bool(passings) and not passings[0][1]
    inside_from = lip_s if first_out or (at_lip and not passings) else None
    stays = []
    for t_s, inwards in passings:
        if inwards and inside_from is None:
            inside_from = t_s
        elif not inwards and inside_from is not None:
            stays.append((inside_from, t_s))
            inside_from = None
    if inside_from is not None:
        stays.append((inside_from, math.inf))
    return stays


def _visit(paths: Paths, k: int, start_s: float, end_s: float, middles: list[float]) -> Visit:
    bends, signs = paths.legs.start_s[k], paths.legs.sign[k]
    within = [t for t in middles if start_s <= t <= end_s]
    turns = bends[(bends > start_s) & (bends < end_s)]
    ends = np.append(bends[1:], math.inf)
    moving = [
        (max(start_s, float(begins)), min(end_s, float(ends[i])))
        for i, begins in enumerate(bends)
        if signs[i] and begins < end_s and ends[i] > start_s
    ]
    return Visit(
        part=k,
        start_s=start_s,
        end_s=end_s,
        # A part that never comes so far rests or turns round where it is nearest.
        nearest_s=within[0] if within else float(turns[0]) if len(turns) else start_s,
        moving=tuple((begins, ends) for begins, ends in moving if ends < math.inf),
    )
