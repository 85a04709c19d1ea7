"""What the sightings of a part say of it, worked out once for each number of them.

A live run looks at the same tracks again with every frame; recorded clips look at them a dozen
times. Each trait is found when it is first asked for.
"""

import math
from collections.abc import Sequence
from functools import cached_property
from statistics import median

import numpy as np
from numpy.typing import NDArray

from viscount.motion.sight import Sight
from viscount.motion.spread import quantile

Floats = NDArray[np.float64]

LEAST_SEEN = 0.7
"""A part that came from nowhere must be seen in this share of the frames since."""
STEADY = 0.03
"""A part whose length changes by no more than this share, and two px, keeps it."""


class Traits:
    """The traits of n sightings, of which k show the part whole and alone."""

    def __init__(self, sights: Sequence[Sight]) -> None:
        self.of = sights
        self.number = len(sights)

    @cached_property
    def whole(self) -> list[Sight]:
        """The sightings that show the part whole and alone."""
        return [sight for sight in self.of if sight.whole and sight.alone]

    @cached_property
    def way(self) -> Floats:
        """(3, k) times in s, places along the fall in px, their variances in px²; whole ones."""
        return way_of(self.whole)

    @cached_property
    def way_at_all(self) -> Floats:
        """(3, n) the same of all sightings."""
        return way_of(self.of)

    @cached_property
    def sigma_y(self) -> float:
        """Usual sigma of a place along the fall, px."""
        return math.sqrt(median(sight.var_y for sight in self.of))

    @cached_property
    def span(self) -> float:
        """From the first place along the fall to the last, px."""
        places = [sight.y for sight in self.of]
        return max(places) - min(places)

    @cached_property
    def patchy(self) -> bool:
        """Whether there are too many holes for a part in plain view."""
        frames = self.of[-1].frame - self.of[0].frame + 1
        return self.number < LEAST_SEEN * frames

    @cached_property
    def largest(self) -> float:
        """Largest area, px."""
        return max(sight.area for sight in self.of)

    @cached_property
    def area(self) -> float:
        """Median area, px."""
        return median(sight.area for sight in self.of)

    @cached_property
    def whole_area(self) -> float:
        """Median area of the whole ones, px; there must be one."""
        return median(sight.area for sight in self.whole)

    @cached_property
    def lesser_area(self) -> float:
        """Area that three in four of the whole ones exceed, px; there must be one."""
        return quantile([sight.area for sight in self.whole], 0.25)

    @cached_property
    def length(self) -> float:
        """Median extent of the whole ones along the fall, px; there must be one."""
        return median(sight.length for sight in self.whole)

    @cached_property
    def least_length(self) -> float:
        """Least extent of the whole ones along the fall, px; there must be one."""
        return min(sight.length for sight in self.whole)

    @cached_property
    def keeps_its_length(self) -> bool:
        """Whether the whole ones are about as long as each other; there must be one."""
        longest = max(sight.length for sight in self.whole)
        return longest - self.least_length <= STEADY * self.length + 2.0


def way_of(sights: Sequence[Sight]) -> Floats:
    """Return (3, n) times in s, places along the fall in px, and their variances in px²."""
    return np.array([(s.t_s, s.y, s.var_y) for s in sights]).reshape(-1, 3).T
