"""How well each story of a pulse fits: which part began or went on in it, and how many.

A stream of pulses is told as a chain of states. In `BETWEEN` no part is in the beam's sight; the
other states are inside a part that has several dark stretches, after one of them. A pulse leads
from state to state, and begins 0, 1, 2 ... parts on its way:

- one part's next dark stretch, of its mode's length;
- several, the last of one part and the first of the next (and whole parts between), merged. The
  merged length is that of their union: from the longest of them (side by side) to their sum
  (nose to tail), more likely the less they overlap, then as likely up to the gaps that the beam
  does not resolve, and seldom more;
- a part that looks like no mode, or what is no part, both seldom.

Densities are per unit of length; of a pulse whose end was not seen only the least length is known.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from viscount.values import Signature

Floats = NDArray[np.float64]

BETWEEN: Final = 0
MERGED: Final = 0.02
"""Chance that a part merges with the next."""
UNKNOWN: Final = 1e-3
"""Chance that a part looks like no mode of its signature."""
NOTHING: Final = 1e-3
"""Chance that a pulse is no part: dust, an insect, chatter; then most often short."""
SHORT: Final = 0.1
"""What is no part is about so long, as a share of a part."""
MORE_GAP: Final = 0.1
"""Gaps that the beam did not resolve, although it should, are about so long, in parts."""
TAILS, WIDER = 0.02, 3.0
"""This share of lengths scatters so many times as much as the rest."""
LARGEST_CLUMP: Final = 8
FRAGMENT: Final = 0.1
"""Chance that a pulse beside missing edges is what they left of a part with several pulses."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretches:
    """Pulses in a row as lengths, in the signature's unit; all (n,).

    Attributes
    ----------
    darks : length of each pulse.
    lights : of the light before it; of no account for the first.
    cut : whether its length is only a least length.
    torn : whether edges are missing just before it, or just behind it.
    """

    darks: Floats
    lights: Floats
    cut: NDArray[np.bool_]
    torn: NDArray[np.bool_]

    def within(self, first: int, last: int) -> "Stretches":
        """Return those from `first` on, without `last`."""
        own = slice(first, last)
        return Stretches(
            darks=self.darks[own], lights=self.lights[own], cut=self.cut[own], torn=self.torn[own]
        )


class Weighing:
    """Weighs the stories of pulses by one signature.

    `unresolved` is the gap between two parts, in the signature's unit, up to which they are one
    pulse (`BeamLaw.least_clear`).
    """

    def __init__(self, signature: Signature, unresolved: float = 0.0) -> None:
        self._unresolved = unresolved
        self._modes = signature.modes
        seen = sum(mode.chance for mode in signature.modes)
        self._chances = np.array([mode.chance / seen for mode in signature.modes])
        self._first = np.array([mode.darks[0] for mode in signature.modes])
        self._sigma = np.array([mode.sigma for mode in signature.modes])
        self._single = np.array([len(mode.darks) == 1 for mode in signature.modes])
        self._inside = [(a, k) for a, m in enumerate(self._modes) for k in range(len(m.darks) - 1)]
        self._extent = float(
            sum(m.chance * (sum(m.darks) + sum(m.lights)) for m in self._modes) / seen
        )
        self._lone = float(self._chances[self._single].sum())
        usual = self._chances * self._single
        self._usual = float(usual @ self._first) / self._lone if self._lone else self._extent

    @property
    def states(self) -> int:
        """How many states there are."""
        return 1 + len(self._inside)

    def weights(self, seen: Stretches) -> Floats:
        """Return the weight of each story, (n, states, states, parts begun)."""
        most = self._most(seen)
        n = len(seen.darks)
        weights = np.zeros((n, self.states, self.states, most + 1))
        typical = float(np.median(seen.lights[1:])) if n > 1 else 1.0
        gap = _broad(seen.lights, max(typical, 1e-9))
        gap[:1] = 1.0
        self._from_between(weights, seen, gap)
        for state, (a, k) in enumerate(self._inside, start=1):
            mode = self._modes[a]
            goes_on = _bell(seen.lights, mode.lights[k], mode.sigma)
            goes_on[:1] = 0.0
            length = mode.darks[k + 1]
            fits = self._length(seen, length, mode.sigma)
            weights[:, state, self._after(a, k + 1), 0] += goes_on * fits
            if k + 2 == len(mode.darks):
                self._merging(weights[:, state], seen, goes_on, length, 0, most)
        return weights

    def _from_between(self, weights: Floats, seen: Stretches, gap: Floats) -> None:
        most = weights.shape[-1] - 1
        for b, mode in enumerate(self._modes):
            fits = self._length(seen, mode.darks[0], mode.sigma)
            weights[:, BETWEEN, self._after(b, 0), 1] += gap * self._chances[b] * fits
            if self._single[b]:
                self._merging(
                    weights[:, BETWEEN], seen, gap * self._chances[b], self._first[b], 1, most
                )
        unknown = np.where(seen.cut, 1.0, _broad(seen.darks, self._extent))
        weights[:, BETWEEN, BETWEEN, 1] += gap * UNKNOWN * unknown
        if np.any(seen.torn):
            weights[:, BETWEEN, BETWEEN, 1] += gap * seen.torn * self._fragment(seen)
        brief = SHORT * self._extent
        nothing = np.where(seen.cut, 1.0, np.exp(-seen.darks / brief) / brief)
        weights[:, BETWEEN, BETWEEN, 0] += gap * NOTHING * nothing

    def _fragment(self, seen: Stretches) -> Floats:
        """Return how well one dark stretch of a part with several fits each pulse."""
        fits = np.zeros(len(seen.darks))
        for chance, mode in zip(self._chances, self._modes, strict=True):
            several = len(mode.darks)
            for dark in mode.darks if several > 1 else ():
                fits += chance / several * self._length(seen, dark, mode.sigma)
        return FRAGMENT * fits

    def _merging(
        self, to: Floats, seen: Stretches, weight: Floats, first: float, begun: int, most: int
    ) -> None:
        """Add what follows where a part whose last dark is `first` long merges with the next.

        `to` is (n, states, parts begun); `begun` parts have begun with that dark itself.
        """
        for more in range(1, most + 1 - begun):
            between = (more - 1) * self._usual
            weight = weight * (MERGED if more == 1 else MERGED * self._lone)
            if not np.any(weight > 0):
                return
            longest = max(first, self._usual if more > 1 else 0.0)
            for b, own in enumerate(self._first):
                fits = self._merged(
                    seen, max(longest, own), first + between + own, more, float(self._sigma[b])
                )
                to[:, self._after(b, 0), begun + more] += weight * self._chances[b] * fits

    def _after(self, a: int, k: int) -> int:
        """Return the state after the k-th dark stretch of mode a."""
        last = k + 1 == len(self._modes[a].darks)
        return BETWEEN if last else 1 + self._inside.index((a, k))

    def _most(self, seen: Stretches) -> int:
        """Return how many parts a pulse may hold at most."""
        longest = float(seen.darks.max(initial=0.0)) / max(self._usual, 1e-9)
        return int(np.clip(np.ceil(longest) + 1, 2, LARGEST_CLUMP))

    def _length(self, seen: Stretches, length: float, sigma: float) -> Floats:
        """Return how well one dark stretch of a length fits each pulse."""
        whole = _bell(seen.darks, length, sigma)
        at_least = ndtr((length - seen.darks) / sigma)
        return np.asarray(np.where(seen.cut, at_least, whole))

    def _merged(
        self, seen: Stretches, longest: float, total: float, gaps: int, sigma: float
    ) -> Floats:
        """Return how well several merged stretches fit each pulse; see the module."""
        room, clear = total - longest, gaps * self._unresolved
        brief = MORE_GAP * self._extent
        top = 1.0 / (room / 2 + clear + brief)
        beyond = (seen.darks - total - clear) / brief
        rise = np.clip((seen.darks - longest) / room, 0.0, 1.0)
        density = top * rise * np.exp(-np.clip(beyond, 0.0, 700.0))
        # Lengths scatter: a little below the least of them is possible too.
        off = (seen.darks - longest) / sigma
        density += top * min(0.4 * sigma / room, 1.0) * np.exp(-0.5 * off**2)
        return np.asarray(np.where(seen.cut, np.exp(-np.clip(beyond, 0.0, 700.0)), density))


def _bell(x: Floats, mean: float, sigma: float) -> Floats:
    """Return a normal density with heavier tails."""
    square = -0.5 * ((x - mean) / sigma) ** 2
    narrow = (1.0 - TAILS) * np.exp(square)
    wide = TAILS / WIDER * np.exp(square / WIDER**2)
    return np.asarray((narrow + wide) / (sigma * np.sqrt(2.0 * np.pi)))


def _broad(x: Floats, typical: float) -> Floats:
    """Return a density of what may have any length, most often up to a typical one."""
    return np.asarray(1.0 / (typical * (1.0 + x / typical) ** 2))
