"""The most likely story of a row of pulses, and how likely every other is.

The forward-backward and Viterbi recursions over the chain of `weighing` (L. R. Rabiner, A tutorial
on hidden Markov models, Proc. IEEE 77 (1989) 257-286), with the number of parts carried along.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.beam.weighing import BETWEEN

Floats = NDArray[np.float64]

NEGLIGIBLE = 1e-12


@dataclass(frozen=True, slots=True)
class Told:
    """Pulses `first` to `last` (within their row) are `parts` parts.

    Attributes
    ----------
    doubt : chance that they are another number, or not a group of their own.
    instead : the likeliest other number.
    """

    first: int
    last: int
    parts: int
    doubt: float
    instead: int


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """Chances of `low`, `low` + 1, ... parts."""

    low: int
    chances: Floats

    def plus(self, other: "Spread") -> "Spread":
        """Return the spread of the sum of two independent numbers."""
        return _trimmed(self.low + other.low, np.convolve(self.chances, other.chances))

    def within(self, confidence: float) -> tuple[int, int]:
        """Return the least range that leaves out at most half of the rest at either end."""
        tail = 0.5 * (1.0 - confidence)
        up_to = np.cumsum(self.chances)
        from_top = np.cumsum(self.chances[::-1])
        low = int(np.searchsorted(up_to, tail, side="right"))
        high = len(self.chances) - 1 - int(np.searchsorted(from_top, tail, side="right"))
        return self.low + low, self.low + max(low, high)


def explained(weights: Floats) -> tuple[list[Told], Spread]:
    """Return the likeliest story of a row of pulses, and the spread of its number of parts.

    `weights` are those of `Weighing.weights`, (n, states, states, parts begun). The row begins
    and ends between parts.
    """
    if weights.shape[1] == 1:
        return _one_by_one(weights[:, 0, 0])
    scaled = weights / weights.max(axis=(1, 2, 3), keepdims=True)
    summed = scaled.sum(axis=-1)
    before, before_log = _passed(summed)
    after, after_log = _passed(summed[::-1].transpose(0, 2, 1))
    after, after_log = after[::-1], after_log[::-1]
    whole = np.log(before[-1, BETWEEN]) + before_log[-1]

    def told(first: int, last: int, parts: int) -> Told:
        inside = _inside(scaled[first : last + 1])
        log = before_log[first] + after_log[last + 1] - whole
        outside = before[first, BETWEEN] * after[last + 1, BETWEEN]
        right = float(inside[parts] * np.exp(log) * outside)
        others = inside.copy()
        others[parts] = -1.0
        doubt = min(max(1.0 - right, 0.0), 1.0)
        return Told(first, last, parts, doubt, int(np.argmax(others)))

    return [told(*group) for group in _likeliest(scaled)], _numbers(scaled)


def _one_by_one(weights: Floats) -> tuple[list[Told], Spread]:
    """Where every part is one pulse or less, pulses say nothing of each other; (n, parts)."""
    chances = weights / weights.sum(axis=1, keepdims=True)
    parts = np.argmax(chances, axis=1)
    rows = np.arange(len(parts))
    right = chances[rows, parts]
    others = chances.copy()
    others[rows, parts] = -1.0
    instead = np.argmax(others, axis=1)
    doubts = np.maximum(others, 0.0).sum(axis=1)
    told = [Told(i, i, int(parts[i]), float(doubts[i]), int(instead[i])) for i in range(len(parts))]
    spread = Spread(int(parts[right > 1.0 - NEGLIGIBLE].sum()), np.ones(1))
    for row in chances[right <= 1.0 - NEGLIGIBLE]:
        spread = spread.plus(Spread(0, row))
    return told, spread


def _passed(summed: Floats) -> tuple[Floats, Floats]:
    """Carry weight from `BETWEEN` through each pulse: (n + 1, states), and the log of its scale."""
    n, states = summed.shape[:2]
    passed, logs = np.zeros((n + 1, states)), np.zeros(n + 1)
    passed[0, BETWEEN] = 1.0
    for i in range(n):
        own = passed[i] @ summed[i]
        scale = own.sum()
        passed[i + 1], logs[i + 1] = own / scale, logs[i] + np.log(scale)
    return passed, logs


def _inside(weights: Floats) -> Floats:
    """Return the weight of 0, 1, ... parts from `BETWEEN` to `BETWEEN` over a few pulses."""
    own = np.zeros((weights.shape[1], 1))
    own[BETWEEN, 0] = 1.0
    for pulse in weights:
        own = _through(own, pulse)
    return np.asarray(own[BETWEEN])


def _through(own: Floats, pulse: Floats) -> Floats:
    """Carry weights by number of parts, (states, numbers), through one pulse."""
    numbers, most = own.shape[1], pulse.shape[2] - 1
    after = np.zeros((own.shape[0], numbers + most))
    for k in range(most + 1):
        after[:, k : k + numbers] += pulse[:, :, k].T @ own
    return after


def _numbers(weights: Floats) -> Spread:
    """Return the chances of each number of parts in the whole row."""
    own, low = np.zeros((weights.shape[1], 1)), 0
    own[BETWEEN, 0] = 1.0
    for pulse in weights:
        own = _through(own, pulse)
        own /= own.sum()
        kept = np.flatnonzero(own.sum(axis=0) > NEGLIGIBLE**1.5)
        own, low = own[:, kept[0] : kept[-1] + 1], low + int(kept[0])
    return _trimmed(low, own[BETWEEN] / own[BETWEEN].sum())


def _trimmed(low: int, chances: Floats) -> Spread:
    kept = np.flatnonzero(chances > NEGLIGIBLE)
    chances = chances[kept[0] : kept[-1] + 1]
    return Spread(low + int(kept[0]), chances / chances.sum())


def _likeliest(weights: Floats) -> list[tuple[int, int, int]]:
    """Return the groups of the likeliest story as (first pulse, last pulse, parts)."""
    n, states = weights.shape[:2]
    begun = np.argmax(weights, axis=3)
    with np.errstate(divide="ignore"):
        logs = np.log(np.max(weights, axis=3))
    best = np.full(states, -np.inf)
    best[BETWEEN] = 0.0
    back = np.zeros((n, states), dtype=np.intp)
    for i in range(n):
        ways = best[:, None] + logs[i]
        back[i] = np.argmax(ways, axis=0)
        best = ways[back[i], np.arange(states)]
    groups: list[tuple[int, int, int]] = []
    state, last, parts = BETWEEN, n - 1, 0
    for i in range(n - 1, -1, -1):
        came = int(back[i, state])
        parts += int(begun[i, came, state])
        if came == BETWEEN:
            groups.append((i, last, parts))
            last, parts = i - 1, 0
        state = came
    return groups[::-1]
