"""The result of both counters together: how many, how sure, why.

Each pairing says how many parts went through and how likely that is wrong; together they give the
count, its range and the chance that all of it is right. What one counter could not have seen, the
other explains. What neither explains stays a doubt.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from viscount.agreement.chances import CONFIDENCE, Chances, all_right, range_about
from viscount.agreement.clock_fit import ClockFit
from viscount.agreement.error_rates import SCEPTICAL, ErrorRates, wholly_trusted
from viscount.agreement.result import Result, places
from viscount.codes import Code
from viscount.tally import Reason
from viscount.values import Level, Notice, Pairing, Pairs, Status

UNEXPLAINED_SHARE = 0.15
UNEXPLAINED_FEW = 2
"""More parts than these few, and than this share, that one counter missed without a reason: then
something is wrong with a counter, however sure the single pairings are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Combined:
    """The result of both counters. `notes` are worth knowing and take nothing from the count."""

    result: Result
    notes: tuple[Notice, ...] = ()


def combined(
    pairings: Sequence[Pairing],
    fit: ClockFit,
    *,
    camera: Result,
    beam: Result,
    origin_ns: int,
    rates: ErrorRates,
) -> Combined:
    """Return what both counters come to.

    Parameters
    ----------
    pairings : of all passages and pulses. Of a camera whose own status is invalid the passages
        are worth nothing: pair without them, the camera blind all the time.
    fit : the clocks that the pairings rest on.
    camera, beam : what each counter says alone, with its reasons.
    origin_ns : the first frame's time.
    rates : that the pairings were made with. A doubtful camera is borne out by the beam only
        where the pairing did not believe it beforehand (`rates_for`).
    """
    if camera.status is Status.INVALID and beam.status is Status.INVALID:
        return Combined(result=_neither(camera, beam))
    if beam.status is Status.INVALID:
        return Combined(result=_alone(camera, beam, Code.CAMERA_ALONE))
    count = sum(pairing.parts for pairing in pairings)
    low, high = range_about(count, [_own(pairing) for pairing in pairings])
    seen = camera.status is not Status.INVALID
    paired = seen and not fit.unfitted and not fit.ambiguous
    reasons: list[Reason] = []
    if not seen:
        reasons += [*camera.reasons, *beam.reasons, _reason(Code.BEAM_ALONE)]
    elif not paired:
        reasons.append(_unclocked(fit))
        low, high = min(low, camera.low, beam.low), max(high, camera.high, beam.high)
    reasons += _unsure(pairings, origin_ns)
    sides = {Pairs.CAMERA_ONLY: beam, Pairs.BEAM_ONLY: camera}
    unexplained = {kind: _unexplained(pairings, kind) for kind in sides}
    for kind, alone in unexplained.items():
        parts = sum(abs(pairing.parts) for pairing in alone)
        if parts > UNEXPLAINED_FEW + UNEXPLAINED_SHARE * max(abs(count), 1):
            reasons.append(_differ(kind, parts, camera, beam))
    if seen:
        settled = paired and not reasons
        weighed = wholly_trusted(camera) or rates.camera_false >= SCEPTICAL.camera_false
        if not (settled and weighed) or unexplained[Pairs.CAMERA_ONLY]:
            # What single passages leave open is in the pairings' own doubts already.
            inside = {Code.PASSAGES_UNSURE} if paired else set()
            reasons += [reason for reason in camera.reasons if reason.code not in inside]
        if not settled or unexplained[Pairs.BEAM_ONLY]:
            reasons += beam.reasons
    status = Status.DOUBTFUL if reasons else Status.CLEAN
    whole = Result(count=count, low=low, high=high, status=status, reasons=_each_once(reasons))
    return Combined(result=whole, notes=tuple(_notes(pairings, unexplained, origin_ns)))


def against_total(camera: Result, total: int) -> Result:
    """Return what the camera's count and a bare number of the beam come to.

    Equal numbers leave the camera's own status as it is: a total says nothing of single parts, and
    two errors may make up for each other. Others are a doubt, with a range that holds both.
    """
    if camera.status is Status.INVALID:
        reasons = (*camera.reasons, _reason(Code.BEAM_ALONE))
        return Result(count=total, low=total, high=total, status=Status.DOUBTFUL, reasons=reasons)
    if camera.count == total:
        return camera
    text = f"the camera counted {camera.count}, the beam's total is {total}"
    return Result(
        count=camera.count,
        low=min(camera.low, total),
        high=max(camera.high, total),
        status=Status.DOUBTFUL,
        reasons=(*camera.reasons, Reason(code=Code.BEAM_TOTAL_DIFFERS, text=text)),
    )


def _own(pairing: Pairing) -> Chances:
    more = max(pairing.doubt - pairing.fewer, 0.0)
    return Chances(pairing.fewer, 1.0 - pairing.doubt, more)


def _neither(camera: Result, beam: Result) -> Result:
    reasons = _each_once([*camera.reasons, *beam.reasons])
    low, high = min(camera.low, beam.low), max(camera.high, beam.high)
    return Result(count=camera.count, low=low, high=high, status=Status.INVALID, reasons=reasons)


def _alone(counter: Result, other: Result, code: Code) -> Result:
    reasons = _each_once([*counter.reasons, *other.reasons, _reason(code)])
    return Result(
        count=counter.count,
        low=counter.low,
        high=counter.high,
        status=Status.DOUBTFUL,
        reasons=reasons,
    )


def _unclocked(fit: ClockFit) -> Reason:
    if fit.unfitted:
        return _reason(Code.CLOCKS_UNFITTED)
    several = next(epoch for epoch in fit.epochs if epoch.ambiguous).candidates
    shown = ", ".join(
        f"{1e-9 * c.offset_ns:.4f} s ({100 * c.support:.0f} %)" for c in several if c.support > 0.01
    )
    return Reason(code=Code.CLOCKS_AMBIGUOUS, text=f"{Code.CLOCKS_AMBIGUOUS.meaning}: {shown}")


def _unsure(pairings: Sequence[Pairing], origin_ns: int) -> list[Reason]:
    right = all_right(_own(pairing) for pairing in pairings)
    if right >= CONFIDENCE:
        return []
    moments = [(p.t_ns, p.doubt) for p in pairings if p.t_ns is not None]
    where = places(moments, origin_ns)
    chance = f"all pairings right with a chance of {100 * right:.0f} %"
    return [Reason(code=Code.PAIRINGS_UNSURE, text=f"{chance}; {where}" if where else chance)]


def _unexplained(pairings: Sequence[Pairing], kind: Pairs) -> list[Pairing]:
    """Return pairings of parts that one counter missed though it was watching."""
    return [p for p in pairings if p.kind is kind and p.parts > 0 and not p.excused]


def _differ(kind: Pairs, parts: int, camera: Result, beam: Result) -> Reason:
    missed = "beam" if kind is Pairs.CAMERA_ONLY else "camera"
    text = (
        f"the camera counted {camera.count}, the beam {beam.count}: "
        f"the {missed} missed {parts} without a reason"
    )
    return Reason(code=Code.COUNTERS_DIFFER, text=text)


def _notes(
    pairings: Sequence[Pairing], unexplained: dict[Pairs, list[Pairing]], origin_ns: int
) -> Iterator[Notice]:
    """Return what the counters differ in and what explains it."""
    merged = [p for p in pairings if p.kind is Pairs.MERGED_PULSE]
    excused = [
        p
        for p in pairings
        if p.kind in (Pairs.CAMERA_ONLY, Pairs.BEAM_ONLY) and p.parts and p.excused
    ]
    groups = (
        (Code.PULSES_OF_SEVERAL, merged, "pulse", "stood for several parts"),
        (Code.SEEN_BY_ONE, excused, "part", "passed while only one counter watched"),
        (Code.BEAM_MISSED, unexplained[Pairs.CAMERA_ONLY], "part", "gave no pulse"),
        (Code.CAMERA_MISSED, unexplained[Pairs.BEAM_ONLY], "part", "gave no passage"),
    )
    for code, found, what, said in groups:
        if not found:
            continue
        where = places([(p.t_ns, 1.0) for p in found if p.t_ns is not None], origin_ns)
        text = f"{len(found)} {what}{'' if len(found) == 1 else 's'} {said}"
        yield Notice(level=Level.INFO, code=code, text=f"{text}; {where}" if where else text)


def _reason(code: Code) -> Reason:
    return Reason(code=code, text=code.meaning)


def _each_once(reasons: Sequence[Reason]) -> tuple[Reason, ...]:
    return tuple(dict.fromkeys(reasons))
