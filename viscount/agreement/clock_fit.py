"""The clock fit: offset and drift between two clocks from two lists of events alone.

Nobody set the clocks. The passages, carried to the beam, and the pulses' starts are the same
parts on both; few other offsets bring so many of them together. Candidates come from votes and
from the pours' fronts and tails; each is followed through both lists and weighed by what it
leaves unmatched. A regular stream leaves several that explain it alike: then the fit says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.arrival import Arrival, in_arrays
from viscount.agreement.candidates import Start, starts
from viscount.agreement.clock import ClockLine
from viscount.agreement.clock_following import Followed, Following
from viscount.agreement.clock_state import ClockState, unknown
from viscount.agreement.heads import heads, lead_us
from viscount.agreement.lamp import in_view
from viscount.agreement.outline import Outline, outline
from viscount.agreement.support import Support
from viscount.agreement.watch import Watch
from viscount.values import LampEvent, Pulse, Signature

Floats = NDArray[np.float64]

RANKING_STRETCHES = 24
"""Candidates are first ranked over so many stretches around the place that they come from."""
FAR_BEHIND = 25.0
"""A candidate this far behind (in logs) is not followed to the end."""
SURE = 0.99
"""With less support than this the best offset is one of several."""
LEAST_MATCHED = 0.4
"""An offset that brings together less than this share of the shorter list explains nothing."""
SHOWN = 8
POSSIBLE, IMPOSSIBLE, FEW = 1e-3, 1e-6, 5
"""Offsets with more support may be right, those with less than the other are not; where there is
nothing between, and they are no more than so many, each is looked at by itself."""
LEAST_FOR_SCATTER = 8
DIFFUSE_US = 1e5


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One offset: the board's clock minus the capture clock, in ns at the middle of the events.

    `support` is its share of the chance among all candidates, `matched` how many parts it
    brings together.
    """

    offset_ns: float
    support: float
    matched: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EpochFit:
    """The fit of one epoch of the board.

    Attributes
    ----------
    clock : None where no offset explains the events.
    candidates : the offsets that were weighed, best first.
    alternatives : the clocks of those that may be right, where they are several, but few.
    matched : how many parts the best one brings together.
    """

    epoch: int
    clock: ClockLine | None
    candidates: tuple[Candidate, ...] = ()
    alternatives: tuple[ClockLine, ...] = ()

    @property
    def matched(self) -> int:
        """How many parts the best offset brings together."""
        return self.candidates[0].matched if self.candidates else 0

    @property
    def ambiguous(self) -> bool:
        """Whether several offsets explain the events alike."""
        return bool(self.candidates) and self.candidates[0].support < SURE


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClockFit:
    """The fits of all epochs that have pulses, in order."""

    epochs: tuple[EpochFit, ...]

    @property
    def ambiguous(self) -> bool:
        """Whether any epoch's offset is one of several."""
        return any(epoch.ambiguous for epoch in self.epochs)

    @property
    def unfitted(self) -> tuple[int, ...]:
        """The epochs whose pulses no offset brings together with passages."""
        return tuple(epoch.epoch for epoch in self.epochs if epoch.clock is None)

    @property
    def clocks(self) -> tuple[ClockLine, ...]:
        """The clocks that were found."""
        return tuple(epoch.clock for epoch in self.epochs if epoch.clock is not None)


def fit_clocks(
    arrivals: Sequence[Arrival],
    pulses: Sequence[Pulse],
    *,
    watch: Watch | None = None,
    lamp: Sequence[LampEvent] = (),
    near_ns: tuple[float, float] | None = None,
    signature: Signature | None = None,
) -> ClockFit:
    """Fit the board's clock to the capture clock, epoch by epoch.

    Parameters
    ----------
    arrivals : passages carried to the beam; those of no parts are left out.
    pulses : chatter removed.
    watch : who watched when; None where both always did.
    lamp : what the camera saw of the board's lamp.
    near_ns : (offset, standard uncertainty) known beforehand, board minus capture; None where
        the offset may be anything.
    signature : what one part does to the beam; of parts that give several pulses, the first ones
        are used only. Without it such parts leave several offsets.

    Notes
    -----
    Where the transit is unknown (0), the offset found is that of arrivals, not of clocks: it has
    the fall from line to beam in it. Its uncertainty is that of the fit, plus what
    `Arrival.common_ns` says of the beam's height.
    """
    kept = [a for a in arrivals if a.passage.parts != 0]
    whole = watch or Watch()
    speeds = [a.speed for a in kept if a.speed is not None]
    usual = outline(signature, float(np.median(speeds)) if speeds else None)
    found = []
    for epoch in sorted({pulse.epoch for pulse in pulses}):
        # A start that was not seen is no moment to go by.
        own = [p for p in pulses if p.epoch == epoch and not p.cut]
        own.sort(key=lambda p: p.start_ns)
        if kept and own:
            parts = heads(own, usual)
            found.append(_Fitting(kept, parts, usual, signature, whole, lamp).fit(near_ns))
        else:
            found.append(EpochFit(epoch=epoch, clock=None))
    return ClockFit(epochs=tuple(found))


@dataclass(frozen=True, slots=True, eq=False)
class _Tried:
    """One start, followed, with its clock and its support."""

    start: ClockState
    followed: Followed
    clock: ClockLine
    support: float


class _Fitting:
    """One epoch being fitted."""

    def __init__(
        self,
        arrivals: Sequence[Arrival],
        parts: Sequence[Sequence[Pulse]],
        usual: Outline,
        signature: Signature | None,
        watch: Watch,
        lamp: Sequence[LampEvent],
    ) -> None:
        self.signature = signature
        self.epoch = parts[0][0].epoch
        self.origin_ns = min(a.due_ns for a in arrivals)
        self.board_ns = parts[0][0].start_ns
        begun = np.array([1e-3 * (p[0].start_ns - self.board_ns) for p in parts], dtype=np.float64)
        ended = np.array([1e-3 * (p[-1].end_ns - self.board_ns) for p in parts], dtype=np.float64)
        lit = in_view(lamp, begun, ended, self.origin_ns)
        # When heads were there; the order of two that follow closely may turn.
        headed = begun - np.array([lead_us(usual, own) for own in parts])
        order = np.argsort(headed, kind="stable")
        self.begun_us, self.parts = begun[order], [parts[k] for k in order]
        headed = headed[order]
        self.following = Following(in_arrays(arrivals, self.origin_ns), headed, lit)
        own = self.following.arrivals
        self.common_us = float(np.median(own.common_us))
        self.support = Support(self.following, watch, self.epoch, self.board_ns)

    def fit(self, near_ns: tuple[float, float] | None) -> EpochFit:
        """Return the fit of this epoch."""
        fixed_ns = self.board_ns - self.origin_ns
        near_us = None if near_ns is None else (1e-3 * (near_ns[0] - fixed_ns), 1e-3 * near_ns[1])
        own, lamp = self.following.arrivals, self.following.lamp
        tried = self._ranked(starts(own, self.following.starts_us, lamp, near_us))
        if not tried:
            return EpochFit(epoch=self.epoch, clock=None)
        best = self._settled(tried[0])
        shorter = min(self.support.watched(best.clock, best.followed))
        fits = best.followed.arrivals.size >= LEAST_MATCHED * shorter
        weighed = self._weighed(tried)
        return EpochFit(
            epoch=self.epoch,
            clock=best.clock if fits else None,
            candidates=weighed,
            alternatives=self._alternatives(best, tried, weighed) if fits else (),
        )

    def _alternatives(
        self, best: _Tried, tried: list[_Tried], weighed: Sequence[Candidate]
    ) -> tuple[ClockLine, ...]:
        likely = sum(candidate.support > POSSIBLE for candidate in weighed)
        rest = [candidate.support for candidate in weighed[likely:]]
        # Of a stream whose offsets fade one by one, the right one may not be among those tried.
        if not 2 <= likely <= FEW or likely == SHOWN or max(rest, default=0.0) > IMPOSSIBLE:
            return ()
        scatter = self.following.scatter
        others = tuple(self._settled(one).clock for one in tried[1:likely])
        self.following.scatter = scatter
        return (best.clock, *others)

    def _ranked(self, candidates: Sequence[Start]) -> list[_Tried]:
        """Return candidates that were followed to both ends, best first, each once."""
        first = [self._tried(start, most=RANKING_STRETCHES) for start in candidates]
        first.sort(key=lambda tried: -tried.support)
        if len(self.following.pieces) > RANKING_STRETCHES:
            near = [t for t in first if t.support > first[0].support - FAR_BEHIND]
            first = [self._tried(t.start) for t in near]
            first.sort(key=lambda tried: -tried.support)
        kept: list[_Tried] = []
        for tried in first:
            met = tried.followed.arrivals.size
            if met and all(tried.followed.shared(other.followed) < met / 2 for other in kept):
                kept.append(tried)
        return kept

    def _tried(self, start: Start | ClockState, most: int | None = None) -> _Tried:
        if isinstance(start, Start):
            start = unknown(start.at_s, start.offset_us, start.sigma_us, self.common_us)
        followed = self.following.outwards(start, most=most)
        return self._weighed_one(start, followed)

    def _settled(self, tried: _Tried) -> _Tried:
        """Return a candidate fitted through all stretches, with the scatter that it shows."""
        # Only where to look came from the start; what it says of the offset is in the matches too.
        first = tried.start
        start = unknown(first.at_s, float(first.mean[0]), DIFFUSE_US, self.common_us)
        usual_us = self.following.starts_us
        self.following.starts_us = self._headed_us(tried.followed)
        followed = self.following.refined(start, tried.followed)
        z = np.abs(followed.residuals)
        if z.size >= LEAST_FOR_SCATTER:
            # The median of |z| of a normal variable is 0.6745.
            self.following.scatter = max(1.0, float(np.median(z)) / 0.6745)
            if self.following.scatter > 1.0:
                followed = self.following.refined(start, followed)
        settled = self._weighed_one(tried.start, followed)
        self.following.starts_us = usual_us
        return settled

    def _headed_us(self, followed: Followed) -> Floats:
        """Return when heads were there, by how fast each part is that was matched.

        The same pulse is a slow part's edge and a fast one's middle.
        """
        headed = self.following.starts_us.copy()
        speeds = self.following.arrivals.speed
        for arrival, pulse in zip(followed.arrivals, followed.pulses, strict=True):
            if np.isfinite(speeds[arrival]):
                own = outline(self.signature, float(speeds[arrival]))
                headed[pulse] = self.begun_us[pulse] - lead_us(own, self.parts[pulse])
        # Two that follow closely stay in order.
        return np.maximum.accumulate(headed)

    def _weighed_one(self, start: ClockState, followed: Followed) -> _Tried:
        clock = ClockLine(
            epoch=self.epoch,
            origin_ns=self.origin_ns,
            board_origin_ns=self.board_ns,
            states=followed.states,
            scatter=self.following.scatter,
        )
        return _Tried(start, followed, clock, self.support.of(clock, followed))

    def _weighed(self, ranked: Sequence[_Tried]) -> tuple[Candidate, ...]:
        chances = np.exp(np.array([tried.support for tried in ranked]) - ranked[0].support)
        fixed_ns = self.board_ns - self.origin_ns
        return tuple(
            Candidate(
                offset_ns=fixed_ns + 1e3 * float(tried.clock.offset_us(self._middle_s())[0]),
                support=float(chance / chances.sum()),
                matched=int(tried.followed.arrivals.size),
            )
            for tried, chance in zip(ranked[:SHOWN], chances[:SHOWN], strict=True)
        )

    def _middle_s(self) -> Floats:
        return np.array([float(np.median(self.following.arrivals.due_s))])
