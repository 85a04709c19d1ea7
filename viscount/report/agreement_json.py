"""The beam, the agreement of both counters and a check pour as JSON."""

from collections.abc import Iterable, Sequence

from viscount.report.figures import RATE, SECONDS, Json, rounded, significant, whole
from viscount.tally import CheckTally, CountedPairing, CountedPulse, Reason, Tally
from viscount.values import LampEvent


def beam_json(tally: Tally) -> Json | None:
    """Return what the beam alone counted; None where there was none."""
    beam = tally.beam
    if beam is None:
        return None
    log = beam.log
    return {
        "parts": int(beam.parts),
        "pulses": int(beam.pulses),
        "lost_edges": int(beam.lost_edges),
        "status": beam.status.value,
        "reasons": _reasons(beam.reasons),
        "log": None if log is None else {"name": log.name, "sha256": log.sha256},
    }


def agreement_json(tally: Tally) -> Json | None:
    """Return how the counters agree, pairing by pairing; None without a beam log."""
    made = tally.agreement
    if made is None:
        return None
    return {
        "agreed": int(made.agreed),
        "camera_only": int(made.camera_only),
        "beam_only": int(made.beam_only),
        "merged_pulses": int(made.merged_pulses),
        "split_pulses": int(made.split_pulses),
        "ambiguous": int(made.ambiguous),
        "clock_offset_s": rounded(made.clock_offset_s, SECONDS),
        "arrival_offset_s": rounded(made.arrival_offset_s, SECONDS),
        "clock_drift_ppm": rounded(made.clock_drift_ppm, RATE),
        "both_missed": significant(made.both_missed),
        "offset_sigma_s": rounded(made.offset_sigma_s, SECONDS),
        "drift_sigma_ppm": rounded(made.drift_sigma_ppm, RATE),
        "pairings": [_pairing(one) for one in tally.pairings],
        "pulses": [_pulse(one) for one in tally.pulses],
    }


def lamp_json(events: Sequence[LampEvent] | None) -> list[Json] | None:
    """Return when the lamp in view went on and off; None where none was looked at."""
    if events is None:
        return None
    return [
        {
            "time_s": rounded(1e-9 * event.t_ns, SECONDS),
            "on": bool(event.on),
            "sigma_s": rounded(1e-9 * event.sigma_ns, SECONDS),
        }
        for event in events
    ]


def check_json(check: CheckTally | None) -> Json | None:
    """Return each counter beside a count by hand; None where nobody counted."""
    if check is None:
        return None
    return {
        "hand_count": int(check.hand_count),
        "counters": [
            {
                "name": one.name,
                "counted": whole(one.counted),
                "off": whole(one.off),
                "rate": significant(one.rate),
                "rate_low": significant(one.rate_low),
                "rate_high": significant(one.rate_high),
            }
            for one in check.counters
        ],
        "target_rate": significant(check.target_rate),
        "bags_needed": int(check.bags_needed),
    }


def _pairing(one: CountedPairing) -> Json:
    pairing = one.pairing
    late_ns, t_ns = pairing.late_ns, pairing.t_ns
    return {
        "kind": pairing.kind.value,
        "pour": int(one.pour),
        "passages": [int(k) for k in pairing.passages],
        "pulses": [int(k) for k in pairing.pulses],
        "parts": int(pairing.parts),
        "doubt": significant(pairing.doubt),
        "excused": bool(pairing.excused),
        "at_beam_s": None if t_ns is None else rounded(1e-9 * t_ns, SECONDS),
        "late_s": None if late_ns is None else rounded(1e-9 * late_ns, SECONDS),
        "why": pairing.why,
    }


def _pulse(one: CountedPulse) -> Json:
    pulse, at = one.pulse, one.captured_ns
    return {
        "id": int(pulse.id),
        "epoch": int(pulse.epoch),
        "start_s": rounded(1e-9 * pulse.start_ns, SECONDS),
        "end_s": rounded(1e-9 * pulse.end_ns, SECONDS),
        "captured_s": None if at is None else rounded(1e-9 * at, SECONDS),
    }


def _reasons(reasons: Iterable[Reason]) -> list[Json]:
    return [{"code": one.code.code, "text": one.text} for one in reasons]
