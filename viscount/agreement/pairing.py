"""Pairing: which passages and which pulses are the same parts.

The best explanation of both lists together, not the nearest neighbours. Events far from all
others form clusters of their own; each cluster is explained as a whole, with all alternatives
weighed (see `explanation`). A cluster that is complete never changes, so that a live run with a
short lag and a recording give the same pairings.

A part that goes back up counts less one, and may or may not darken the beam again.
"""

from collections.abc import Iterable, Sequence
from heapq import merge

from viscount.agreement.arrival import Arrival
from viscount.agreement.axis import Axis
from viscount.agreement.clock import ClockLine
from viscount.agreement.clock_keeping import ClockKeeper
from viscount.agreement.error_rates import ErrorRates
from viscount.agreement.events import MOST_REACH_US, Dark, Due
from viscount.agreement.explained import pairings
from viscount.agreement.explanation import explain
from viscount.agreement.heads import lead_us
from viscount.agreement.steps import Steps
from viscount.agreement.unclocked import standing_in, without_clock
from viscount.agreement.watch import Watch
from viscount.values import LampEvent, Pairing, Pairs, Pulse, Signature

HOLD_NS = 10_000_000_000
"""Events wait no longer than this for a clock that more of them might give."""


LEAST_TO_LEARN = 0.01
"""From a pairing with more doubt the clocks learn nothing."""


class Pairer:
    """Pairs what is fed to it; what it returns is final.

    Parameters
    ----------
    clocks : the board's clocks; with none, they are found and followed from the events.
    signature : what one part does to the beam; None where nobody knows.
    watch : who watched when, as far as that is known; may be replaced as a run goes on.
    rates : how often the counters err.
    lag_ns : a cluster longer than this is cut; None for a recording.
    clear_ns : two parts may be one pulse where the beam is clear for less than about this.
    usual_px : length of one part in the picture.
    usual_speed : at the beam, in the signature's unit of length per second.
    """

    def __init__(
        self,
        clocks: Sequence[ClockLine] = (),
        *,
        signature: Signature | None = None,
        watch: Watch | None = None,
        rates: ErrorRates | None = None,
        lag_ns: int | None = None,
        clear_ns: int | None = None,
        usual_px: float | None = None,
        usual_speed: float | None = None,
    ) -> None:
        self.watch = watch or Watch()
        self._rates = rates or ErrorRates()
        self._keeper = ClockKeeper(clocks, follow=not clocks, signature=signature)
        self._axis = Axis(signature, self._rates, usual_px=usual_px, usual_speed=usual_speed)
        self._lag_us = None if lag_ns is None else 1e-3 * lag_ns
        self._clear_us = None if clear_ns is None else 1e-3 * clear_ns
        self._arrivals: list[Arrival] = []
        self._pulses: list[Pulse] = []
        self._lamp: list[LampEvent] = []
        self._dues: list[Due] = []
        self._darks: list[Dark] = []
        self._camera_missed = self._beam_missed = self._parts = 0
        self.log_chance = 0.0

    @property
    def clocks(self) -> tuple[ClockLine, ...]:
        """The board's clocks as they are known now."""
        return self._keeper.clocks

    def feed(
        self,
        arrivals: Iterable[Arrival],
        pulses: Iterable[Pulse],
        until_ns: int,
        lamp: Iterable[LampEvent] = (),
    ) -> list[Pairing]:
        """Take in events; return the pairings that became final, in order of time.

        Parameters
        ----------
        arrivals, pulses : each once, in any order not older than the last `until_ns`.
        until_ns : of all parts that reach the beam before this moment of the capture clock, both
            the passage and the pulse have been fed, if there are any. A dark that goes on holds
            it back to its start.
        lamp : what the camera saw of the board's lamp.
        """
        self._take(arrivals, pulses, lamp)
        waiting_ns = min((a.due_ns for a in self._arrivals), default=until_ns)
        last = until_ns - waiting_ns > HOLD_NS
        if not self._keeper.look(self._arrivals, self._pulses, self.watch, self._lamp, last=last):
            return []
        self._onto_axis()
        origin = self._axis.origin_ns
        return [] if origin is None else self._final(1e-3 * (until_ns - origin))

    def finish(self) -> list[Pairing]:
        """Return what is left; nothing more will come."""
        self._keeper.look(self._arrivals, self._pulses, self.watch, self._lamp, last=True)
        unknown = [p for p in self._pulses if self._keeper.of(p.epoch) is None]
        if unknown and not self._arrivals and not self._dues and not self.clocks:
            # With nothing to pair, any clock will do to put the pulses in order.
            stand_ins = standing_in(unknown, self.watch)
            self._keeper = ClockKeeper(stand_ins, follow=False)
            unknown = []
        self._onto_axis()
        found = self._final(None)
        if unknown:
            found.append(without_clock(unknown))
            self._pulses = []
        return found

    def _take(
        self, arrivals: Iterable[Arrival], pulses: Iterable[Pulse], lamp: Iterable[LampEvent]
    ) -> None:
        self._arrivals += arrivals
        self._pulses += pulses
        self._lamp += lamp

    def _onto_axis(self) -> None:
        """Move events whose clock is known onto the axis."""
        clocks = self._keeper.clocks
        ready = self._axis.dues(self._arrivals, clocks, self.watch)
        self._dues = list(merge(self._dues, ready, key=lambda due: due.at_us))
        self._arrivals = []
        left: list[Pulse] = []
        for epoch in sorted({pulse.epoch for pulse in self._pulses}):
            own = [pulse for pulse in self._pulses if pulse.epoch == epoch]
            clock = self._keeper.of(epoch)
            if clock is None:
                left += own
                continue
            darks = self._axis.darks(own, clock, self._dues, self.watch)
            self._darks = sorted([*self._darks, *darks], key=lambda dark: dark.start_us)
        self._pulses = left

    def _final(self, until_us: float | None) -> list[Pairing]:
        """Explain and return the clusters that are complete."""
        found: list[Pairing] = []
        i = j = 0
        while i < len(self._dues) or j < len(self._darks):
            k, m, high = _cluster(self._dues, self._darks, i, j)
            dues, darks = self._dues[i:k], self._darks[j:m]
            if until_us is not None and high > until_us - MOST_REACH_US:
                cut = self._cut(dues, darks, until_us)
                found += cut
                i += sum(len(pairing.passages) for pairing in cut)
                j += sum(len(pairing.pulses) for pairing in cut)
                break
            found += self._explained(dues, darks)
            i, j = k, m
        self._axis.passed(self._dues[:i])
        del self._dues[:i], self._darks[:j]
        return found

    def _cut(self, dues: list[Due], darks: list[Dark], until_us: float) -> list[Pairing]:
        """Return the pairings at the start of a cluster that is too long to wait for."""
        if self._lag_us is None:
            return []
        lows = [due.low_us for due in dues[:1]] + [dark.low_us for dark in darks[:1]]
        before = until_us - self._lag_us
        if min(lows) > before - self._lag_us:
            return []
        known_dues = [due for due in dues if due.at_us <= until_us - MOST_REACH_US]
        known_darks = [dark for dark in darks if dark.start_us <= until_us - MOST_REACH_US]
        if not known_dues and not known_darks:
            return []
        return self._explained(known_dues, known_darks, before_us=before)

    def _explained(
        self, dues: list[Due], darks: list[Dark], before_us: float | None = None
    ) -> list[Pairing]:
        """Return the pairings of one cluster, or those of its start before a moment."""
        rates = self._rates.after(self._camera_missed, self._beam_missed, self._parts)
        steps = Steps(dues, darks, rates, self._clear_us)
        explanation = explain(dues, darks, steps)
        self.log_chance += explanation.log_total
        if before_us is not None:
            kept = 0
            for step in explanation.path:
                ends = [d.high_us for d in dues[step.due : step.due + step.dues]]
                ends += [d.high_us for d in darks[step.dark : step.dark + step.darks]]
                if max(ends) > before_us:
                    break
                kept += 1
            explanation.path = explanation.path[:kept]
        origin_ns = self._axis.origin_ns or 0
        missed = (rates.camera_missed, rates.beam_missed)
        found = pairings(explanation, dues, darks, *missed, origin_ns)
        for step, pairing in zip(explanation.path, found, strict=True):
            ours, theirs = dues[step.due : step.due + 1], darks[step.dark : step.dark + step.darks]
            self._learn(pairing, ours, theirs)
        return found

    def _learn(self, pairing: Pairing, dues: list[Due], darks: list[Dark]) -> None:
        """Take in what a final pairing says of the counters and of the clocks."""
        if pairing.excused or pairing.parts <= 0:
            return
        self._parts += pairing.parts
        if pairing.kind is Pairs.CAMERA_ONLY:
            self._beam_missed += pairing.parts
        elif pairing.kind is Pairs.BEAM_ONLY:
            self._camera_missed += pairing.parts
        elif pairing.doubt < LEAST_TO_LEARN and not darks[0].loose:
            own = [dark.pulse for dark in darks]
            lead_ns = round(1e3 * lead_us(dues[0].own, own))
            self._keeper.learn(dues[0].arrival, own[0], dues[0].sigma_us, lead_ns)


def pair(
    arrivals: Sequence[Arrival],
    pulses: Sequence[Pulse],
    clocks: Sequence[ClockLine],
    *,
    signature: Signature | None = None,
    watch: Watch | None = None,
    rates: ErrorRates | None = None,
    clear_ns: int | None = None,
    usual_px: float | None = None,
    usual_speed: float | None = None,
) -> list[Pairing]:
    """Pair two whole lists; see `Pairer`."""
    return pair_weighed(
        arrivals,
        pulses,
        clocks,
        signature=signature,
        watch=watch,
        rates=rates,
        clear_ns=clear_ns,
        usual_px=usual_px,
        usual_speed=usual_speed,
    )[0]


def pair_weighed(
    arrivals: Sequence[Arrival],
    pulses: Sequence[Pulse],
    clocks: Sequence[ClockLine],
    *,
    signature: Signature | None = None,
    watch: Watch | None = None,
    rates: ErrorRates | None = None,
    clear_ns: int | None = None,
    usual_px: float | None = None,
    usual_speed: float | None = None,
) -> tuple[list[Pairing], float]:
    """Pair two whole lists, and say how likely they are by these clocks; see `Pairer`.

    The second is the logarithm of a density: only differences between clocks mean something.
    """
    pairer = Pairer(
        clocks,
        signature=signature,
        watch=watch,
        rates=rates,
        clear_ns=clear_ns,
        usual_px=usual_px,
        usual_speed=usual_speed,
    )
    pairer.feed(arrivals, pulses, -(2**62))
    return pairer.finish(), pairer.log_chance


def _cluster(dues: Sequence[Due], darks: Sequence[Dark], i: int, j: int) -> tuple[int, int, float]:
    """Return where the cluster ends that begins with the next event, and up to when it reaches."""
    high = -float("inf")
    k, m = i, j
    while True:
        # Starts are in order, reaches nearly so; what begins within reach belongs to it.
        if k < len(dues) and (high == -float("inf") or dues[k].low_us <= high):
            if high == -float("inf") and m < len(darks) and darks[m].low_us < dues[k].low_us:
                high = darks[m].high_us
                m += 1
                continue
            high = max(high, dues[k].high_us)
            k += 1
        elif m < len(darks) and (high == -float("inf") or darks[m].low_us <= high):
            high = max(high, darks[m].high_us)
            m += 1
        else:
            return k, m, high
