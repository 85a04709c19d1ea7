"""The cut after part N: its window, its best command, and how likely it is exact."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from viscount.gate.best import Best
from viscount.gate.places import COVERAGE, Lateness
from viscount.gate.streams import Streams
from viscount.gate.strokes import Strokes
from viscount.gate.trials import Outcome, Trials
from viscount.stream import Poured
from viscount.window import Window, least_interval_s, window

BACK: Final = 4
"""The command may follow the head edge of a part up to so many before N."""
_LIKELIER: Final = 0.02
_ROOMIER: Final = 1.2
_USEFUL: Final = 0.5
"""N's own edge is the trigger unless an earlier one is likelier by so much, or as likely and,
where N's leaves no time for the command, has so many times the room. A gain matters where it comes
to something useful: what lies between two parts is best left out."""


_AS_GOOD: Final = 0.005
"""The middle of a window stands unless some delay's chance is greater by so much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trigger:
    """The cut commanded from the head edge of part N - `back`; times in s after that edge.

    Attributes
    ----------
    clear_s, arrive_s : the last of all pours' moments at which N's tail clears the blade, and the
        first at which the head of N + 1 arrives there; each with two standard uncertainties.
    window : of the command, for all strokes; None without strokes. Its start may lie before the
        edge, where nothing can be commanded yet.
    delay_s : the best delay; `least_s` and `most_s` are about as good, or bound the window. None
        where no delay cuts exactly in any trial.
    chance : of an exact cut with that delay, of the measured pours and strokes that chose it: too
        good a figure for pours to come, and right to choose by.
    """

    back: int
    clear_s: float
    arrive_s: float
    window: Window | None
    delay_s: float | None
    least_s: float | None
    most_s: float | None
    chance: float | None

    @property
    def room_s(self) -> float:
        """How far the delay may be off before the chance falls."""
        return (self.most_s or 0.0) - (self.least_s or 0.0)

    @property
    def fits(self) -> bool | None:
        """Whether one delay suits all pours and strokes; None without strokes."""
        return None if self.window is None else self.window.from_moment(0.0).fits


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """The cut after part `number`.

    Attributes
    ----------
    pours : how many have that part and one more.
    trigger : the best one; `triggers` are all.
    gap_s : the least clear time at the blade between N's tail and the head of N + 1.
    gap_ceiling_s : what that gap tends to as the blade goes down; None on a belt.
    interval_s : the least between both heads at the beam.
    least_interval_s : what this gate needs there, commanded from N; None without strokes.
    beam_gap_s : the least clear time at the beam between any two parts up to N + 1.
    doubt : the chance that some part up to N + 1 was miscounted, in the worst pour.
    outcome : what comes of pours and strokes that nobody measured: each of the measured is tried
        with the delay that the others choose. None where no delay is any good. One pour alone, or
        one stroke, has no others: it is tried with the delay that itself chose.
    rate : the wanted chance of an exact cut.
    """

    number: int
    pours: int
    trigger: Trigger
    triggers: tuple[Trigger, ...]
    gap_s: float
    gap_ceiling_s: float | None
    interval_s: float
    least_interval_s: float | None
    beam_gap_s: float
    doubt: float
    outcome: Outcome | None
    rate: float

    @property
    def expected(self) -> bool | None:
        """Whether the estimated chance reaches the rate; None without strokes."""
        if self.trigger.window is None:
            return None
        return self.outcome is not None and self.outcome.exact.estimate >= self.rate

    @property
    def promised(self) -> bool | None:
        """Whether even the lower limit reaches the rate, less what parts are in doubt."""
        if self.trigger.window is None:
            return None
        return self.outcome is not None and self.outcome.exact.low - self.doubt >= self.rate


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """What the cuts of a plan rest on: pours as measured, their streams, and the trials.

    Delays are chosen by some trials, and their chances told by others, so that no delay looks
    better than it is for suiting the very draws by which it was chosen. The many delays that are
    chosen with pours and strokes left out are chosen by `sparse` trials.
    """

    pours: Sequence[Poured]
    exact: Sequence[Streams]
    choosing: Trials
    sparse: Trials
    trials: Trials
    strokes: Strokes | None
    lateness: Lateness
    beam_gaps: Sequence[np.ndarray[tuple[int], np.dtype[np.float64]]]

    def eligible(self, number: int) -> list[int]:
        """Return which pours have part `number` and one more."""
        return self.trials.with_more_than(number)


def row(ground: Ground, number: int, rate: float) -> CutRow:
    """Return the cut after part `number`, which some pour must have, and one more."""
    own = ground.eligible(number)
    triggers = tuple(trigger(ground, number, k) for k in range(min(BACK, number - 1) + 1))
    best = _chosen(triggers)
    outcome = None
    if best.delay_s is not None:
        delays = ground.sparse.delays_of_others(number, best.back, best.delay_s)
        outcome = ground.trials.outcome(number, best.back, delays)
    last, following = number - 1, number
    ceilings = [_ceiling_s(ground.pours[i], last) for i in own]
    streams = [ground.exact[i] for i in own]
    return CutRow(
        number=number,
        pours=len(own),
        trigger=best,
        triggers=triggers,
        gap_s=min(float(s.head_s[0, following] - s.tail_s[0, last]) for s in streams),
        gap_ceiling_s=None if None in ceilings else min(c for c in ceilings if c is not None),
        interval_s=min(float(s.at_beam_s[0, following] - s.at_beam_s[0, last]) for s in streams),
        least_interval_s=_least_interval_s(ground, number, triggers[0]),
        beam_gap_s=min(float(ground.beam_gaps[i][:following].min()) for i in own),
        doubt=max(float(1.0 - np.prod(1.0 - ground.pours[i].doubt[: number + 1])) for i in own),
        outcome=outcome,
        rate=rate,
    )


def trigger(ground: Ground, number: int, back: int) -> Trigger:
    """Return the cut as commanded from the head edge of part `number` - `back`."""
    clear, arrive = clear_and_arrive_s(ground, number, back)
    found, best, chance = None, None, None
    if ground.strokes is not None:
        found = window(
            clear_s=clear,
            arrive_s=arrive,
            least_reach_s=least_reach_s(ground.strokes, ground.lateness),
            greatest_shut_s=greatest_shut_s(ground.strokes, ground.lateness),
        )
        best = _settled(ground.choosing, number, back, found.from_moment(0.0))
        chance = 0.0
        if best is not None:
            chance = ground.trials.exact(number, back, best.delay_s)
    return Trigger(
        back=back,
        clear_s=clear,
        arrive_s=arrive,
        window=found,
        delay_s=None if best is None else best.delay_s,
        least_s=None if best is None else best.least_s,
        most_s=None if best is None else best.most_s,
        chance=chance,
    )


def _settled(choosing: Trials, number: int, back: int, span: Window) -> Best | None:
    """Return the best delay: the middle of the window, where nothing is clearly better."""
    best = choosing.best(number, back)
    if best is None or not span.fits:
        return best
    chance = choosing.exact(number, back, span.middle_s)
    if chance < best.chance - _AS_GOOD:
        return best
    return Best(delay_s=span.middle_s, least_s=span.earliest_s, most_s=span.latest_s, chance=chance)


def least_reach_s(strokes: Strokes, lateness: Lateness) -> float:
    """Return the least time from the decision until the blade enters the stream."""
    return float(strokes.shutting.begins_s.min()) + lateness.earliest_s


def greatest_shut_s(strokes: Strokes, lateness: Lateness) -> float:
    """Return the greatest time from the decision until the stream is closed."""
    return float(strokes.shutting.done_s.max()) + lateness.latest_s


def clear_and_arrive_s(ground: Ground, number: int, back: int) -> tuple[float, float]:
    """Return when N's tail has cleared and when the head of N + 1 arrives, for all pours."""
    clears, arrives = [], []
    for i in ground.eligible(number):
        stream, draws = ground.exact[i], ground.trials.streams[i]
        edge = number - back - 1
        clear = stream.tail_s[0, number - 1] - stream.at_beam_s[0, edge]
        arrive = stream.head_s[0, number] - stream.at_beam_s[0, edge]
        clears.append(
            clear + COVERAGE * float(np.std(draws.tail_s[:, number - 1] - draws.at_beam_s[:, edge]))
        )
        arrives.append(
            arrive - COVERAGE * float(np.std(draws.head_s[:, number] - draws.at_beam_s[:, edge]))
        )
    return float(max(clears)), float(min(arrives))


def _chosen(triggers: Sequence[Trigger]) -> Trigger:
    """Return the nearest trigger to which no earlier one is clearly better."""
    best, chance = triggers[0], triggers[0].chance or 0.0
    for other in triggers[1:]:
        gain = (other.chance or 0.0) - chance
        matters = chance + gain >= _USEFUL or chance < _LIKELIER
        # A delay of next to nothing leaves the board no time.
        roomier = best.least_s == 0.0 and other.room_s > _ROOMIER * best.room_s
        if matters and (gain > _LIKELIER or (roomier and abs(gain) <= _LIKELIER)):
            best, chance = other, other.chance or 0.0
    return best


def _ceiling_s(pour: Poured, last: int) -> float | None:
    """Return what the gap behind part `last` tends to as the fall outgrows all else.

    Part i would have been at rest at q_i = t_i - u_i / g; far below, parts are as far apart in
    time as these moments. Behind a column with the acceleration a that is
    interval(lip) (1 - a / g), since its parts differ in speed by a times their interval.
    """
    if pour.acceleration <= 0:
        return None
    rest = pour.t_s - pour.speed / pour.acceleration
    return float(rest[last + 1] - rest[last])


def _least_interval_s(ground: Ground, number: int, from_own: Trigger) -> float | None:
    if ground.strokes is None or from_own.window is None:
        return None
    streams = [ground.exact[i] for i in ground.eligible(number)]
    fallen = min(float(s.head_s[0, number] - s.at_beam_s[0, number]) for s in streams)
    return least_interval_s(
        max(from_own.window.earliest_s, 0.0),
        greatest_shut_s=greatest_shut_s(ground.strokes, ground.lateness),
        fallen_s=fallen,
    )
