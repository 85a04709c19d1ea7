"""The steps of an explanation: which passages and pulses are the same parts, and how likely."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from viscount.agreement import darkness
from viscount.agreement.error_rates import ErrorRates
from viscount.agreement.events import LEAST_CLUMP, Dark, Due
from viscount.agreement.merging import Case, LongPulse

PARTS_PER_US = 1e-4
"""How densely parts come where nobody saw them: 100 a second, a dense pour."""
AGAINST_SEEN = 0.5
"""Chance that a part on its way back up darkens the beam: it may turn below it."""
MOST_ENTANGLED = 3
LEAST_LOG = -700.0
LEAST_WATCHED = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One step: `dues` passages from `due` on and `darks` pulses from `dark` on.

    `cases` holds what it may mean: the parts of each passage, the parts beyond them that the
    camera missed, and the share of that case.
    """

    due: int
    dues: int
    dark: int
    darks: int
    log_weight: float
    cases: tuple[Case, ...]


class Steps:
    """The steps within one cluster; each is weighed once.

    A passage is given; the weight says how likely the beam did what it did. A pulse without a
    passage is a part that the camera missed, or no part.
    """

    def __init__(
        self,
        dues: Sequence[Due],
        darks: Sequence[Dark],
        rates: ErrorRates,
        clear_us: float | None,
    ) -> None:
        self._dues = dues
        self._darks = darks
        self._rates = rates
        self._clear_us = clear_us
        self._met: dict[tuple[int, int], list[Step]] = {}
        self._alone_due: dict[int, Step] = {}
        self._alone_dark: dict[int, list[Step]] = {}

    def alone_due(self, i: int) -> Step:
        """Return the step in which a passage has no pulse."""
        if i not in self._alone_due:
            due = self._dues[i]
            weights = [((n,), 0, share * self._unpulsed(due, n)) for n, share in due.parts]
            self._alone_due[i] = _step(i, 1, 0, 0, weights)
        return self._alone_due[i]

    def alone_dark(self, j: int) -> list[Step]:
        """Return the steps in which pulses have no passage: one pulse, or those of one part."""
        if j not in self._alone_dark:
            dark = self._darks[j]
            false = PARTS_PER_US * self._rates.beam_false
            false *= darkness.any_length(dark.end_us - dark.start_us)
            lost = self._lost(dark)
            cases: list[Case] = [((), 0, false), ((), 1, lost * darkness.single(dark.own, dark))]
            cases += self._long(dark).unseen()
            found = [_step(0, 0, j, 1, cases)]
            for m in self._counts(j):
                shape = darkness.shape(dark.own, self._darks[j : j + m])
                if shape > 0.0:
                    found.append(_step(0, 0, j, m, [((), 1, lost * shape)]))
            self._alone_dark[j] = found
        return self._alone_dark[j]

    def meeting(self, i: int, j: int) -> list[Step]:
        """Return the steps in which passages from `i` on meet pulses from `j` on."""
        if (i, j) not in self._met:
            due, dark = self._dues[i], self._darks[j]
            near = due.low_us <= dark.start_us <= due.latest_us or dark.loose
            found = self._meetings(i, j) if near else []
            if due.low_us <= dark.end_us and due.sign > 0:
                headless = self._long(dark).headless(self._dues[i:])
                found += [_step(i, k, j, 1, cases) for k, cases in enumerate(headless, start=1)]
            self._met[i, j] = [step for step in found if step.log_weight > LEAST_LOG]
        return self._met[i, j]

    def _meetings(self, i: int, j: int) -> list[Step]:
        due, dark = self._dues[i], self._darks[j]
        headed = list(self._long(dark).headed(self._dues[i:]))
        found = [self._pair(i, j, headed[0])]
        found += [_step(i, k, j, 1, cases) for k, cases in enumerate(headed[1:], start=2)]
        for m in self._counts(j, due):
            darks = self._darks[j : j + m]
            weights: list[Case] = [((1,), 0, self._one(due) * darkness.split(due, darks))]
            for n, share in due.parts:
                if n == m:
                    each = share * self._pulsed(due, n) * darkness.beside(due, darks)
                    weights.append(((n,), 0, each))
            found.append(_step(i, 1, j, m, weights))
        if due.own.several:
            found += self._entangled(i, j)
        return found

    def _long(self, dark: Dark) -> LongPulse:
        return LongPulse(dark, self._lost(dark), self._one, self._clear_us)

    def _lost(self, dark: Dark) -> float:
        """Return how densely parts come that the camera missed."""
        return PARTS_PER_US * (1.0 - dark.seen * (1.0 - self._rates.camera_missed))

    def _pair(self, i: int, j: int, with_another: list[Case]) -> Step:
        """Return the step of one passage and one pulse."""
        due, dark = self._dues[i], self._darks[j]
        cases = list(with_another)
        for n, share in due.parts:
            if n == 0:
                continue
            seen = share * self._pulsed(due, n)
            if n == 1:
                cases.append(((1,), 0, seen * darkness.made(due, dark)))
                continue
            # The head of a clump comes before the centre that the camera timed.
            early = due.sigma_us + 0.5 * (due.own.usual_us or due.reach_us) * (n - 1)
            near = darkness.normal(dark.start_us - due.at_us, early)
            cases.append(((n,), 0, seen * near * darkness.clump(due.own, dark, n)))
        return _step(i, 1, j, 1, cases)

    def _entangled(self, i: int, j: int) -> list[Step]:
        found = []
        for k in range(2, min(MOST_ENTANGLED, len(self._dues) - i) + 1):
            dues = self._dues[i : i + k]
            chance = math.prod(self._one(due) for due in dues)
            if dues[-1].low_us > dues[-2].high_us:
                break
            for m in range(2, min(2 * k, len(self._darks) - j) + 1):
                if self._darks[j + m - 1].start_us > dues[-1].high_us:
                    break
                density = darkness.entangled(dues, self._darks[j : j + m], self._clear_us)
                found.append(_step(i, k, j, m, [((1,) * k, 0, chance * density)]))
        return found

    def _counts(self, j: int, due: Due | None = None) -> list[int]:
        """Return how many pulses from `j` on one passage may have made, beside one."""
        own = self._darks[j].own
        counts = {len(way.darks) for way in own.ways} if own.known else {2}
        if due is not None:
            counts |= {n for n, share in due.parts if n > 1 and share > LEAST_CLUMP}
        first = self._darks[j].start_us
        reach = max(2.0 * own.span_us, 2.5 * (own.usual_us or 0.0))
        return [
            m
            for m in sorted(counts - {1})
            if j + m <= len(self._darks) and self._darks[j + m - 1].start_us - first < reach
        ]

    def _one(self, due: Due) -> float:
        """Return the chance that a passage is one part and that it darkens the beam."""
        return dict(due.parts).get(1, 0.0) * self._pulsed(due, 1)

    def _pulsed(self, due: Due, parts: int) -> float:
        # A pulse at the edge of a stretch that was not watched may still be this part's.
        return max(due.watched, LEAST_WATCHED) * (1.0 - self._silent(due, parts))

    def _unpulsed(self, due: Due, parts: int) -> float:
        return 1.0 - due.watched * (1.0 - self._silent(due, parts))

    def _silent(self, due: Due, parts: int) -> float:
        """Return the chance that these parts give no pulse to a beam that watches."""
        if due.sign < 0:
            return AGAINST_SEEN if parts else 1.0
        return min(self._rates.beam_missed + due.own.unseen, 0.999) ** parts


def _step(due: int, dues: int, dark: int, darks: int, cases: Sequence[Case]) -> Step:
    total = sum(weight for *_, weight in cases)
    if total <= 0.0:
        return Step(due, dues, dark, darks, LEAST_LOG, ((*cases[0][:2], 1.0),))
    shares = tuple((parts, beyond, w / total) for parts, beyond, w in cases if w > 0.0)
    return Step(due, dues, dark, darks, max(math.log(total), LEAST_LOG), shares)
