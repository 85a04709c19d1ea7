"""Chances of single counts, taken together: the range of their sum, and whether all are right.

Each count is right, or one too many, or one too few. They are taken as independent, so that the
distribution of the sum is the convolution of their own.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

CONFIDENCE = 0.95
NEGLIGIBLE = 1e-12
"""Ends of a distribution with less than this are cut off, so that its width stays that of the
doubt and not that of the number of counts."""


@dataclass(frozen=True, slots=True)
class Chances:
    """The chances that the true number is one less than counted, as counted, one more."""

    fewer: float
    right: float
    more: float

    @property
    def reversed(self) -> "Chances":
        """Return the chances of the same count with its sign turned."""
        return Chances(self.more, self.right, self.fewer)


def all_right(items: Iterable[Chances]) -> float:
    """Return the chance that every count is right."""
    return float(np.prod([item.right for item in items]))


def range_about(count: int, items: Sequence[Chances]) -> tuple[int, int]:
    """Return the range about `count` that holds the true sum with `CONFIDENCE`.

    As much is left out below as above. The count itself is always inside.
    """
    spread = np.array([1.0])
    lowest = count
    for item in items:
        if item.right >= 1.0:
            continue
        spread = np.convolve(spread, (item.fewer, item.right, item.more))
        kept = np.flatnonzero(spread > NEGLIGIBLE)
        lowest += int(kept[0]) - 1
        spread = spread[kept[0] : kept[-1] + 1]
    cumulative = np.cumsum(spread)
    tail = 0.5 * (1.0 - CONFIDENCE)
    low = lowest + int(np.searchsorted(cumulative, tail))
    high = lowest + min(int(np.searchsorted(cumulative, 1.0 - tail)), spread.size - 1)
    return min(low, count), max(high, count)
