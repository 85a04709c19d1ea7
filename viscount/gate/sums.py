"""How many of several unsure parts there are: the distribution of a sum, and its range."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.gate.limits import CONFIDENCE

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEGLIGIBLE: Final = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sum:
    """The distribution of a whole number: `chance[i]` is that of `least` + i."""

    least: int
    chance: Floats

    def of(self, number: int) -> float:
        """Return the chance of a number."""
        at = number - self.least
        return float(self.chance[at]) if 0 <= at < len(self.chance) else 0.0

    def about(self, number: int) -> tuple[int, int]:
        """Return the range that holds it with 95 %, as much left out below as above.

        `number` is always inside.
        """
        up = np.cumsum(self.chance)
        tail = 0.5 * (1.0 - CONFIDENCE)
        low = self.least + int(np.searchsorted(up, tail))
        high = self.least + min(int(np.searchsorted(up, 1.0 - tail)), len(up) - 1)
        return min(low, number), max(high, number)


def sum_of(
    mass: Floats, parts: Ints, doubt: Floats, surely: tuple[Ints, Floats] | None = None
) -> Sum:
    """Return the distribution of how many parts are in.

    Parameters
    ----------
    mass : (d, m) chance that an entry is in, under each of d draws of what all share.
    parts : (m,) how many parts an entry is, 1 or more.
    doubt : (m,) chance that it is one more or one less.
    surely : parts and doubts of further entries, which are in for sure.
    """
    sure = (mass > 1.0 - NEGLIGIBLE).all(axis=0)
    unsure = ~sure & (mass > NEGLIGIBLE).any(axis=0)
    fixed, least = np.array([1.0]), int(parts[sure].sum())
    doubts = doubt[sure]
    if surely is not None:
        least += int(surely[0].sum())
        doubts = np.concatenate([doubts, surely[1]])
    for own in doubts[doubts > 0].tolist():
        fixed = np.convolve(fixed, (0.5 * own, 1.0 - own, 0.5 * own))
        # What is next to impossible is cut off, so that the width stays that of the doubt.
        kept = np.flatnonzero(fixed > NEGLIGIBLE)
        least += int(kept[0]) - 1
        fixed = fixed[kept[0] : kept[-1] + 1]
    width = 1 + int((parts[unsure] + 1).sum())
    drawn = np.zeros((len(mass), width))
    drawn[:, 0] = 1.0
    for i in np.flatnonzero(unsure):
        held = drawn * (1.0 - mass[:, i, None])
        many = int(parts[i])
        for step, share in ((-1, 0.5 * doubt[i]), (0, 1.0 - doubt[i]), (1, 0.5 * doubt[i])):
            by = many + step
            held[:, by:] += share * mass[:, i, None] * drawn[:, : width - by]
        drawn = held
    return Sum(least=least, chance=np.convolve(fixed, drawn.mean(axis=0)))
