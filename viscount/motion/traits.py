"""What the sightings of a part say of it, worked out once for each number of them.

A live run looks at the same tracks again with every frame; recorded clips look at them a dozen
times. Each trait is found when it is first asked for; which sightings are whole, and their way,
from what was known of those before.
"""

import math
from collections.abc import Sequence
from statistics import median

import numpy as np
from numpy.typing import NDArray

from viscount.motion.once import Once
from viscount.motion.sight import Sight
from viscount.motion.spread import quantile

Floats = NDArray[np.float64]

LEAST_SEEN = 0.7
"""A part that came from nowhere must be seen in this share of the frames since."""
STEADY = 0.03
"""A part whose length changes by no more than this share, and two px, keeps it."""


class Traits:
    """The traits of n sightings, of which k show the part whole and alone.

    Parameters
    ----------
    sights : grows by further sightings, nothing else.
    before : the traits of the first of them, where there were any.
    """

    def __init__(self, sights: Sequence[Sight], before: "Traits | None" = None) -> None:
        self.of = sights
        self.number = len(sights)
        # Those whose way was asked for last; not all that were before them.
        skipped = before is not None and "way" not in vars(before)
        self._before: Traits | None = before._before if before and skipped else before

    @Once
    def whole(self) -> list[Sight]:
        """The sightings that show the part whole and alone."""
        before = self._before
        new = self.of if before is None else self.of[before.number :]
        whole = [sight for sight in new if sight.whole and sight.alone]
        return whole if before is None else before.whole + whole

    @Once
    def way(self) -> Floats:
        """(3, k) times in s, places along the fall in px, their variances in px²; whole ones."""
        before, whole = self._before, self.whole
        if before is None:
            return way_of(whole)
        self._before = None
        new = way_of(whole[len(before.whole) :])
        return np.concatenate([before.way, new], axis=1) if new.size else before.way

    @Once
    def way_at_all(self) -> Floats:
        """(3, n) the same of all sightings."""
        return way_of(self.of)

    @Once
    def sigma_y(self) -> float:
        """Usual sigma of a place along the fall, px."""
        return math.sqrt(median([sight.var_y for sight in self.of]))

    @Once
    def span(self) -> float:
        """From the first place along the fall to the last, px."""
        places = [sight.y for sight in self.of]
        return max(places) - min(places)

    @Once
    def patchy(self) -> bool:
        """Whether there are too many holes for a part in plain view."""
        frames = self.of[-1].frame - self.of[0].frame + 1
        return self.number < LEAST_SEEN * frames

    @Once
    def largest(self) -> float:
        """Largest area, px."""
        return max([sight.area for sight in self.of])

    @Once
    def area(self) -> float:
        """Median area, px."""
        return median([sight.area for sight in self.of])

    @Once
    def whole_area(self) -> float:
        """Median area of the whole ones, px; there must be one."""
        return median([sight.area for sight in self.whole])

    @Once
    def lesser_area(self) -> float:
        """Area that three in four of the whole ones exceed, px; there must be one."""
        return quantile([sight.area for sight in self.whole], 0.25)

    @Once
    def length(self) -> float:
        """Median extent of the whole ones along the fall, px; there must be one."""
        return median([sight.length for sight in self.whole])

    @Once
    def least_length(self) -> float:
        """Least extent of the whole ones along the fall, px; there must be one."""
        return min([sight.length for sight in self.whole])

    @Once
    def keeps_its_length(self) -> bool:
        """Whether the whole ones are about as long as each other; there must be one."""
        longest = max([sight.length for sight in self.whole])
        return longest - self.least_length <= STEADY * self.length + 2.0


def way_of(sights: Sequence[Sight]) -> Floats:
    """Return (3, n) times in s, places along the fall in px, and their variances in px²."""
    return np.array([(s.t_s, s.y, s.var_y) for s in sights]).reshape(-1, 3).T
