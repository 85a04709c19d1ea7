"""What keeps a count of two counters in doubt, though each part has its pairing."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from viscount.agreement.result import Result
from viscount.codes import Code
from viscount.tally import Reason
from viscount.values import Status

MOST_SCATTER = 3.0
"""Pulses this many times as far off as their uncertainty says are not those of these passages,
where they are also off by"""
RHYTHM_SHARE, MOST_OFF_NS = 0.3, 1e6
"""this share of the scatter of the stream's own rhythm, or by this much at all."""
FEW, SHARE = 2, 0.15
"""More parts than these few, and than this share, that the camera missed inside of pulses."""
STUCK = frozenset({Code.BEAM_STUCK_OPEN, Code.BEAM_STUCK_BLOCKED})
"""A beam that is stuck bears nothing out, though each part has its pairing."""
SHOWN = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """How far pulses are off where clocks and fall put them.

    Attributes
    ----------
    off_ns : as a rule, as a standard deviation.
    scatter : the same in units of their own uncertainty.
    rhythm_ns : by how much the stream's own rhythm scatters: what chance alone would give.
    """

    off_ns: float = 0.0
    scatter: float = 0.0
    rhythm_ns: float = 0.0

    @property
    def fits(self) -> bool:
        """Whether pulses and passages keep time with each other."""
        near = self.off_ns <= min(RHYTHM_SHARE * self.rhythm_ns, MOST_OFF_NS)
        return near or self.scatter <= MOST_SCATTER


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubts:
    """What could keep the count in doubt.

    Attributes
    ----------
    camera, beam : what each says alone.
    neither_ns : stretches of the capture clock that neither watched.
    end_matters : the log does not say up to when it is whole, and that leaves a part open.
    clocked : whether both clocks were brought together.
    timing : how far off pulses are.
    stuck : whether the beam was stuck: light, or blocked by something else than parts.
    hidden : parts that the camera missed, though it watched, inside of pulses that have passages.
    unlit : a lamp in view does not go with the beam.
    """

    camera: Result
    beam: Result
    neither_ns: Sequence[tuple[float, float]]
    end_matters: bool
    clocked: bool
    timing: Timing
    stuck: bool
    hidden: int
    unlit: bool = False


def doubted(whole: Result, doubts: Doubts) -> Result:
    """Return the result with these doubts added; an invalid one stays as it is."""
    if whole.status is Status.INVALID:
        return whole
    reasons = tuple(dict.fromkeys([*whole.reasons, *_reasons(whole, doubts)]))
    status = Status.DOUBTFUL if reasons else whole.status
    if not reasons or doubts.camera.status is Status.INVALID:
        return replace(whole, status=status, reasons=reasons)
    camera, beam, count = doubts.camera, doubts.beam, whole.count
    low, high = min(whole.low, camera.low), max(whole.high, camera.high)
    if any(reason.code is Code.COUNTERS_DISAGREE_IN_TIME for reason in reasons):
        low, high = min(low, beam.low), max(high, beam.high)
    if camera.status is Status.CLEAN and (
        beam.status is not Status.CLEAN or beam.count == camera.count
    ):
        # Where pairing is in doubt, a camera that is sure of itself knows better than a beam
        # that is not; and two counters that come to the same, better than their pairing.
        count = camera.count
    return replace(whole, count=count, status=status, reasons=reasons, low=low, high=high)


def _reasons(whole: Result, doubts: Doubts) -> Iterator[Reason]:
    if doubts.camera.status is Status.INVALID or doubts.beam.status is Status.INVALID:
        return
    if not doubts.clocked:
        yield from doubts.camera.reasons
        yield from doubts.beam.reasons
        return
    if not doubts.timing.fits:
        text = (
            f"pulses and passages are {1e-6 * doubts.timing.off_ns:.2f} ms off each other as a "
            f"rule, {doubts.timing.scatter:.0f} times what their uncertainty allows"
        )
        yield Reason(code=Code.COUNTERS_DISAGREE_IN_TIME, text=text)
    told = any(reason.code is Code.COUNTERS_DIFFER for reason in whole.reasons)
    if not told and doubts.hidden > FEW + SHARE * max(abs(whole.count), 1):
        text = (
            f"the camera counted {doubts.camera.count}, the beam {doubts.beam.count}: "
            f"{doubts.hidden} parts that the camera missed make pulses longer"
        )
        yield Reason(code=Code.COUNTERS_DIFFER, text=text)
    if doubts.stuck:
        yield from (r for r in doubts.beam.reasons if r.code in STUCK)
    if doubts.unlit:
        yield from (r for r in doubts.beam.reasons if r.code is Code.LAMP_DISAGREES)
    if doubts.neither_ns:
        yield Reason(code=Code.NEITHER_WATCHED, text=_neither_text(doubts.neither_ns))
        yield from doubts.camera.reasons
    if doubts.end_matters:
        yield from (r for r in doubts.beam.reasons if r.code is Code.BEAM_END_UNKNOWN)


def _neither_text(spans: Sequence[tuple[float, float]]) -> str:
    places = [f"{1e-9 * a:.3f} to {1e-9 * b:.3f} s" for a, b in spans]
    more = f" and {len(places) - SHOWN} more" if len(places) > SHOWN else ""
    return f"neither camera nor beam was watching from {', '.join(places[:SHOWN])}{more}"
