"""Keeping the clocks while a run goes on: found once, then followed from pairing to pairing."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from viscount.agreement.arrival import Arrival
from viscount.agreement.clock import ClockLine
from viscount.agreement.clock_fit import fit_clocks
from viscount.agreement.clock_following import TUKEY
from viscount.agreement.clock_state import carried, updated
from viscount.agreement.watch import Watch
from viscount.values import LampEvent, Pulse, Signature

LEAST_TO_FIND = 12
"""A clock is looked for once so many arrivals and pulses wait."""
LEAST_MATCHED = 8
UNSURE_NS = 300_000.0
"""A clock less sure than this is looked for anew, near where it should be."""
LEARN_AT = 16
"""Matches are taken in so many at a time."""
KEPT_STATES = 4

Match = tuple[float, float, float, float]
"""Due time in s, board minus capture in us, common in us, sigma in us."""


class ClockKeeper:
    """The clocks of all epochs so far.

    Parameters
    ----------
    clocks : known beforehand, such as those of a whole recording.
    follow : whether they are found and followed as the run goes on.
    """

    def __init__(
        self,
        clocks: Sequence[ClockLine],
        *,
        follow: bool,
        signature: Signature | None = None,
    ) -> None:
        self._signature = signature
        self._clocks = {clock.epoch: clock for clock in clocks}
        self._follow = follow
        self._matches: dict[int, list[Match]] = {}

    @property
    def clocks(self) -> tuple[ClockLine, ...]:
        """The clocks that are known, by epoch."""
        return tuple(self._clocks[epoch] for epoch in sorted(self._clocks))

    def of(self, epoch: int) -> ClockLine | None:
        """Return the clock of an epoch, or None while it is not known."""
        return self._clocks.get(epoch)

    def look(
        self,
        arrivals: Sequence[Arrival],
        pulses: Sequence[Pulse],
        watch: Watch,
        lamp: Sequence[LampEvent],
        *,
        last: bool,
    ) -> bool:
        """Look for clocks that these waiting events need; return whether they can be paired.

        `last` : no more will come that could help; what is likeliest is taken.
        """
        if not self._follow:
            return True
        ready = True
        for epoch in sorted({pulse.epoch for pulse in pulses}):
            own = [pulse for pulse in pulses if pulse.epoch == epoch]
            known = self._clocks.get(epoch)
            if known is not None and self._sure(known, own):
                continue
            few = min(len(arrivals), len(own)) < LEAST_TO_FIND
            if few and not last:
                ready = False
                continue
            ready &= self._found(epoch, known, arrivals, own, watch, lamp) or last
        if not pulses and not self._clocks:
            return last
        return ready

    def learn(self, arrival: Arrival, pulse: Pulse, sigma_us: float, lead_ns: int = 0) -> None:
        """Take in one agreed pairing; its pulse began `lead_ns` after the head was there."""
        clock = self._clocks.get(pulse.epoch)
        if not self._follow or clock is None:
            return
        due_ns, start_ns = (
            arrival.due_ns - clock.origin_ns,
            pulse.start_ns - lead_ns - clock.board_origin_ns,
        )
        match = (1e-9 * due_ns, 1e-3 * (start_ns - due_ns), 1e-3 * arrival.common_ns, sigma_us)
        waiting = self._matches.setdefault(pulse.epoch, [])
        waiting.append(match)
        if len(waiting) >= LEARN_AT:
            self._clocks[pulse.epoch] = _moved(clock, waiting)
            waiting.clear()

    def _sure(self, clock: ClockLine, pulses: Sequence[Pulse]) -> bool:
        board_us = np.array([1e-3 * (pulses[0].start_ns - clock.board_origin_ns)])
        t_s = 1e-6 * clock.captured_us(board_us)
        variance = carried(clock.at(float(t_s[0])), float(t_s[0])).cov
        # What the height has to do with the offset does not part the events.
        own = variance[0, 0] - variance[0, 2] ** 2 / max(variance[2, 2], 1e-12)
        return 1e3 * float(np.sqrt(max(own, 0.0))) < UNSURE_NS

    def _found(
        self,
        epoch: int,
        known: ClockLine | None,
        arrivals: Sequence[Arrival],
        pulses: Sequence[Pulse],
        watch: Watch,
        lamp: Sequence[LampEvent],
    ) -> bool:
        near = None
        if known is not None:
            at_ns = arrivals[0].due_ns if arrivals else known.origin_ns
            near = (known.offset_ns(at_ns), known.sigma_ns(at_ns))
        fit = fit_clocks(
            arrivals,
            pulses,
            watch=watch,
            lamp=lamp,
            near_ns=near,
            signature=self._signature,
        ).epochs[0]
        good = not fit.ambiguous and fit.matched >= LEAST_MATCHED
        if fit.clock is not None and (good or known is None):
            self._clocks[epoch] = fit.clock
        return good


def _moved(clock: ClockLine, matches: Sequence[Match]) -> ClockLine:
    """Return a clock after matches, those far off weighing nothing."""
    t_s, y_us, common_us, sigma_us = np.array(matches).T
    state = carried(clock.states[-1], float(t_s.mean()))
    spread = np.sqrt(sigma_us**2 + state.variance(t_s, common_us))
    off = (y_us - state.expected_us(t_s, common_us)) / (TUKEY * spread)
    good = np.abs(off) < 1.0
    if not good.any() or state.at_s <= clock.states[-1].at_s:
        return clock
    sigma = sigma_us[good] / (1.0 - off[good] ** 2).clip(0.05)
    state = updated(state, t_s[good], y_us[good], common_us[good], sigma)
    return replace(clock, states=(*clock.states[-KEPT_STATES:], state))
