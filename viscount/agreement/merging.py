"""One pulse of several parts: passages one behind the other, and parts that the camera missed.

The pulse begins with the first part and ends with the last one. Between neighbours the beam stays
dark where the clear time is too short for it. A part that the camera missed may have been the
first, the last, or one between; each such part costs what it costs to miss one.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from viscount.agreement.darkness import (
    ODD_REACH,
    ODD_SHARE,
    any_length,
    least_clear,
    meeting,
    normal,
    still_dark,
)
from viscount.agreement.events import Dark, Due

LEAST = 1e-30
FALSE_WITHIN = 0.02
"""A passage this likely to be no part may be left out of the parts of one long pulse."""
MOST_LEFT_OUT = 3
MOST_ALONE = 4
HIDDEN_SHARE = 0.8
"""Of several parts in one pulse that nobody saw, no more than this share of one is hidden."""

Case = tuple[tuple[int, ...], int, float]
"""Parts of each passage, parts beyond them, weight."""


@dataclass(frozen=True, slots=True, eq=False)
class LongPulse:
    """One pulse, to be explained by several parts.

    Attributes
    ----------
    lost : how densely parts come that the camera missed, in 1/us.
    one : the chance that a passage is one part and darkens the beam.
    clear_us : see `least_clear`.
    """

    dark: Dark
    lost: float
    one: Callable[[Due], float]
    clear_us: float | None

    def headed(self, dues: Sequence[Due]) -> Iterator[list[Case]]:
        """Yield the cases of the first passage, of the first two, and so on.

        The first one begins the pulse. For it alone, only those cases in which another part, which
        the camera missed, ends it.
        """
        first = dues[0]
        plain = self.one(first) * meeting(first, self.dark)
        one_more = 0.0
        yield [((1,), 1, plain * self._trailed(first))]
        unsure: list[int] = []
        for k in range(1, len(dues)):
            before, last = dues[k - 1], dues[k]
            gap = self._joined(_end(before), before.sigma_us, last)
            one = self.one(last)
            one_more = one * (one_more * gap + plain * self._bridged(before, last))
            plain *= one * gap
            if last.low_us > self.dark.end_us or (plain + one_more < LEAST and not unsure):
                return
            ended = self._ended(_end(before), last)
            parts = (1,) * (k + 1)
            cases: list[Case] = [
                (parts, 0, plain * ended),
                (parts, 1, one_more * ended + plain * self._trailed(last)),
            ]
            if unsure:
                cases += self._with_some_false(dues[: k + 1], unsure)
            yield cases
            if none(last) > FALSE_WITHIN:
                unsure.append(k)

    def headless(self, dues: Sequence[Due]) -> Iterator[list[Case]]:
        """Yield the cases of the first passage, of the first two, and so on, where a part that the
        camera missed begins the pulse."""
        dark = self.dark
        usual = dues[0].own.usual_us
        end = None if usual is None else dark.start_us + usual
        sigma = 0.0
        chain = self.lost
        for k, due in enumerate(dues):
            if due.at_us <= dark.start_us or due.low_us > dark.end_us:
                return
            chain *= self.one(due) * self._joined(end, sigma, due)
            if chain < LEAST:
                return
            yield [((1,) * (k + 1), 1, chain * self._ended(end, due))]
            end, sigma = _end(due), due.sigma_us

    def unseen(self) -> list[Case]:
        """Return the cases of several parts of which the camera saw none."""
        dark, usual = self.dark, self.dark.own.usual_us
        if usual is None or dark.loose:
            return []
        length = dark.end_us - dark.start_us
        most = least_clear(usual, self.clear_us)
        return [
            ((), n, self.lost**n * usual ** (n - 2))
            for n in range(2, MOST_ALONE + 1)
            if (n - HIDDEN_SHARE) * usual < length < n * usual + (n - 1) * most
        ]

    def _with_some_false(self, dues: Sequence[Due], unsure: list[int]) -> list[Case]:
        """Return the cases in which some passages between were no parts."""
        found: list[Case] = []
        some = unsure[-MOST_LEFT_OUT:]
        for count in range(1, len(some) + 1):
            for out in combinations(some, count):
                kept = [due for k, due in enumerate(dues) if k not in out]
                weight = math.prod(none(dues[k]) for k in out) * self._plain(kept)
                parts = tuple(0 if k in out else 1 for k in range(len(dues)))
                found.append((parts, 0, weight))
        return found

    def _plain(self, dues: Sequence[Due]) -> float:
        weight = self.one(dues[0]) * meeting(dues[0], self.dark)
        for k in range(1, len(dues)):
            before = dues[k - 1]
            weight *= self.one(dues[k]) * self._joined(_end(before), before.sigma_us, dues[k])
        return weight * self._ended(_end(dues[-2]), dues[-1])

    def _joined(self, end_us: float | None, sigma_us: float, after: Due) -> float:
        """Return the chance that the pulse goes on from a part that ends at `end_us`."""
        dark, usual = self.dark, after.own.usual_us
        if usual is None or end_us is None or dark.loose:
            return still_dark(after.at_us - dark.end_us, 0.0, after.sigma_us)
        if dark.end_us - dark.start_us > ODD_REACH * usual and after.at_us < dark.end_us:
            # A beam that stays dark for so long sees nothing of those that pass.
            return 1.0
        most = least_clear(usual, self.clear_us)
        return still_dark(after.at_us - end_us, most, math.hypot(sigma_us, after.sigma_us))

    def _bridged(self, before: Due, after: Due) -> float:
        """Return how likely a part that the camera missed lies between two: the density of such
        parts times the width in which it keeps the beam dark."""
        usual = before.own.usual_us
        if usual is None or self.dark.loose:
            return 0.0
        apart = after.at_us - before.at_us
        clear = apart - usual
        width = usual + 2.0 * least_clear(usual, self.clear_us) - clear
        return self.lost * max(min(width, apart), 0.0)

    def _trailed(self, last: Due) -> float:
        """Return the density of a part behind the last passage that ends the pulse."""
        dark, usual = self.dark, last.own.usual_us
        if usual is None or dark.loose:
            return 0.0
        behind = dark.end_us - usual - last.at_us
        most = least_clear(usual, self.clear_us)
        return self.lost if 3.0 * last.sigma_us < behind < usual + most else 0.0

    def _ended(self, before_us: float | None, last: Due) -> float:
        """Return the density of the pulse's end: the last part's, or, where they overlap, that of
        the one before it."""
        dark = self.dark
        length = dark.end_us - dark.start_us
        if not last.own.known or dark.loose:
            return any_length(length)
        found = ODD_SHARE * any_length(length)
        for way in last.own.ways:
            late = last.at_us + way.end
            late = late if before_us is None else max(late, before_us)
            sigma = math.hypot(last.sigma_us, way.sigma)
            found += (1.0 - ODD_SHARE) * way.chance * normal(dark.end_us - late, sigma)
        return found


def none(due: Due) -> float:
    """Return the chance that a passage was no part, by the camera alone."""
    return due.parts[0][1] if due.parts[0][0] == 0 else 0.0


def _end(due: Due) -> float | None:
    usual = due.own.usual_us
    return None if usual is None else due.at_us + usual
