"""What the beam alone comes to: its reading, its health, and how far it can be trusted."""

from collections.abc import Mapping, Sequence

from viscount.agreement.result import Result
from viscount.barrier import BeamLaw
from viscount.beam.health import beam_health
from viscount.beam.reading import BeamReading, read_pulses
from viscount.beam.record import BeamRecord
from viscount.codes import Code
from viscount.counters.beam_seen import BeamSeen
from viscount.tally import BeamTally, Reason
from viscount.values import Level, Notice, Pulse, Signature, Status

BLOCKED_SHARE = 0.5
"""A beam that misses this share of the camera's parts while it is stuck counts nothing."""


def reading_of(
    pulses: Sequence[Pulse],
    record: BeamRecord,
    signature: Signature | None,
    law: BeamLaw,
    speeds: Sequence[float] | None,
) -> BeamReading:
    """Return how many parts the beam alone counts; `speeds` for each pulse, or None."""
    usual = sorted(speeds)[len(speeds) // 2] if speeds else None
    return read_pulses(
        pulses,
        signature,
        speed=speeds,
        unresolved=law.least_clear(usual) if usual is not None else 0.0,
        record=record,
    )


def health_of(
    pulses: Sequence[Pulse],
    record: BeamRecord,
    passages: Mapping[int, Sequence[int]] | int | None,
    signature: Signature | None,
    speeds: Sequence[float] | None,
) -> tuple[Notice, ...]:
    """Return what is wrong with the beam; see `beam_health` for `passages`."""
    expected_ns = None
    if signature is not None and signature.unit != "ms" and speeds and min(speeds) > 0:
        longest = max(sum(mode.darks) + sum(mode.lights) for mode in signature.modes)
        expected_ns = 1e9 * longest / min(speeds)
    return beam_health(pulses, record, passages=passages, expected_ns=expected_ns)


def result_of(
    reading: BeamReading, notices: Sequence[Notice], *, camera_parts: int, pulses: int
) -> Result:
    """Return the beam's own result.

    It is invalid where it gave no pulse while the camera counted: nothing tells such a beam from
    one that is not plugged in.
    """
    reasons = [Reason(code=n.code, text=n.text) for n in notices if n.level is not Level.INFO]
    status = Status.DOUBTFUL if reasons else Status.CLEAN
    if not pulses and camera_parts > 0:
        status = Status.INVALID
        if not any(reason.code is Code.BEAM_STUCK_OPEN for reason in reasons):
            text = f"the beam gave no pulse while the camera counted {camera_parts}"
            reasons.append(Reason(code=Code.BEAM_STUCK_OPEN, text=text))
    return Result(
        count=reading.parts,
        low=reading.low,
        high=reading.high,
        status=status,
        reasons=tuple(dict.fromkeys(reasons)),
    )


def beam_tally(result: Result, seen: BeamSeen, pulses: int) -> BeamTally:
    """Return the beam's own part of the tally."""
    return BeamTally(
        parts=result.count,
        pulses=pulses,
        lost_edges=seen.record.lost_edges,
        status=result.status,
        reasons=result.reasons,
        log=seen.log,
    )
