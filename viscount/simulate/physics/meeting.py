"""Parts that would run through one another as they leave the lip: no outlet lets such go."""

import numpy as np

from viscount.simulate.physics.paths import Paths, paths
from viscount.simulate.physics.reach import Extent, extent
from viscount.simulate.scene import Scene

NEIGHBOURS = 4
"""Parts that left later than so many others are far enough away."""

FAR_MM = 100.0
"""A part so far below the lip touches none that leaves it."""

TOUCHING = 0.98
"""Parts that touch may overlap by rounding and a little jitter."""


def overlapping(scene: Scene) -> list[tuple[int, int]]:
    """Return the pairs of parts whose bodies overlap when the later one leaves the lip."""
    moving = paths(scene, FAR_MM)
    order = np.argsort(moving.lip_s, kind="stable").tolist()
    found = []
    for i, later in enumerate(order):
        found += [
            (earlier, later)
            for earlier in order[max(i - NEIGHBOURS, 0) : i]
            if _overlap(scene, moving, earlier, later)
        ]
    return found


def _overlap(scene: Scene, found: Paths, earlier: int, later: int) -> bool:
    """Whether the boxes about two bodies overlap in all three directions."""
    moment = np.array(found.lip_s[later])
    shadows = [
        [extent(scene.part(k), r) for r in (rotation, rotation[[0, 2, 1]])]
        for k, rotation in ((k, found.rotation(k, moment)) for k in (earlier, later))
    ]
    (front, side), (back, back_side) = shadows
    ahead = float(found.along(earlier, moment)[0] - found.along(later, moment)[0])
    beside = float(found.across(later, moment) - found.across(earlier, moment))
    deeper = float(found.depth(later, moment) - found.depth(earlier, moment))
    return (
        ahead < TOUCHING * (front.back + back.front)
        and abs(beside) < TOUCHING * _breadth(front, back)
        and abs(deeper) < TOUCHING * _breadth(side, back_side)
    )


def _breadth(one: Extent, other: Extent) -> float:
    """Return half of how broad two bodies are together."""
    return (one.left + one.right + other.left + other.right) / 2
