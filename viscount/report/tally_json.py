"""The tally as one JSON object, schema ``viscount.tally/1``: other programs read this."""

from collections.abc import Iterable

from viscount.report.agreement_json import agreement_json, beam_json, check_json, lamp_json
from viscount.report.figures import PIXELS, RATE, SECONDS, Json, rounded, significant, whole
from viscount.tally import (
    SCHEMA,
    Assumption,
    Bag,
    CountedPassage,
    FileMark,
    FrameTally,
    PourTally,
    Reason,
    SetUp,
    SpacingTally,
    Spread,
    Tally,
)

_SPEED = 3
_SPACING = 6
_SHARE = 6


def tally_json(tally: Tally) -> Json:
    """Return the tally as plain values, keys in the order of the schema; unknown is None.

    Nothing in it is NaN or infinite, and no number is NumPy's.
    """
    camera = tally.camera
    return {
        "schema": SCHEMA,
        "made_by": tally.made_by,
        "source": tally.source,
        "outlet": _file(tally.outlet),
        "part": _file(tally.part),
        "started_at": tally.started_at.isoformat() if tally.started_at is not None else None,
        "count": whole(tally.count),
        "count_low": int(tally.count_low),
        "count_high": int(tally.count_high),
        "confidence": float(tally.confidence),
        "expected": whole(tally.expected),
        "as_expected": tally.as_expected,
        "counted_at": tally.counted_at,
        "in_bag": whole(tally.in_bag),
        "held": whole(tally.held),
        "status": tally.status.value,
        "reasons": _reasons(tally.reasons),
        "assumed": [_assumption(one) for one in tally.assumed],
        "camera": {
            "count": int(camera.count),
            "against": int(camera.against),
            "status": camera.status.value,
            "reasons": _reasons(camera.reasons),
        },
        "beam": beam_json(tally),
        "pours": [_pour(one) for one in tally.pours],
        "passages": [_passage(one) for one in tally.passages],
        "frames": _frames(tally.frames),
        "agreement": agreement_json(tally),
        "spacing": _spacing(tally.spacing),
        "check": check_json(tally.check),
        "set_up": _set_up(tally.set_up),
        "lamp": lamp_json(tally.lamp),
        "bags": [_bag(one) for one in tally.bags],
    }


def _file(mark: FileMark | None) -> Json | None:
    return None if mark is None else {"name": mark.name, "sha256": mark.sha256}


def _reasons(reasons: Iterable[Reason]) -> list[Json]:
    return [{"code": one.code.code, "text": one.text} for one in reasons]


def _assumption(one: Assumption) -> Json:
    value = one.value
    if value is not None and not isinstance(value, str | bool):
        # A whole number stays one: 180, not 180.0.
        value = int(value) if isinstance(value, int) else significant(float(value))
    return {"code": one.code.code, "text": one.text, "value": value, "unit": one.unit}


def _pour(pour: PourTally) -> Json:
    return {
        "start_s": rounded(pour.start_s, SECONDS),
        "end_s": rounded(pour.end_s, SECONDS),
        "count": whole(pour.count),
        "count_low": int(pour.count_low),
        "count_high": int(pour.count_high),
        "status": pour.status.value,
        "reasons": _reasons(pour.reasons),
    }


def _bag(bag: Bag) -> Json:
    return {
        "number": int(bag.number),
        "content": int(bag.content),
        "low": int(bag.low),
        "high": int(bag.high),
        "chance": rounded(bag.chance, _SHARE),
        "held_before": whole(bag.held_before),
        "held_after": whole(bag.held_after),
        "pinched": whole(bag.pinched),
        "status": bag.status.value,
        "reasons": _reasons(bag.reasons),
    }


def _passage(counted: CountedPassage) -> Json:
    passage = counted.passage
    return {
        "id": int(passage.id),
        "pour": int(counted.pour),
        "time_s": rounded(passage.t_ns * 1e-9, SECONDS),
        "sigma_s": rounded(passage.sigma_ns * 1e-9, SECONDS),
        "direction": passage.direction.value,
        "basis": passage.basis.value,
        "speed_px_s": rounded(passage.speed_px_s, _SPEED),
        "speed_mm_s": rounded(counted.speed_mm_s, _SPEED),
        "across_px": rounded(passage.across_px, PIXELS),
        "length_px": rounded(passage.length_px, PIXELS),
        "parts": int(passage.parts),
        "doubt": significant(passage.doubt),
        "frames": [int(passage.first_frame), int(passage.last_frame)],
    }


def _frames(frames: FrameTally) -> Json:
    return {
        "read": int(frames.read),
        "lost": int(frames.lost),
        "repeated": int(frames.repeated),
        "damaged": int(frames.damaged),
        "rate_hz": rounded(frames.rate_hz, RATE),
        "blind_s": rounded(frames.blind_s, SECONDS),
        "blind": [[rounded(a, SECONDS), rounded(b, SECONDS)] for a, b in frames.blind],
        "end_s": rounded(frames.end_s, SECONDS),
    }


def _set_up(set_up: SetUp | None) -> Json | None:
    if set_up is None:
        return None
    return {
        "falls": set_up.falls.value,
        "line_px": rounded(set_up.line_px, PIXELS),
        "view_px": rounded(set_up.view_px, PIXELS),
        "scale_px_per_mm": significant(set_up.scale_px_per_mm),
        "acceleration_px_s2": rounded(set_up.acceleration_px_s2, _SPEED),
        "head_share": rounded(set_up.head_share, _SHARE),
        "quiet_s": rounded(set_up.quiet_s, SECONDS),
    }


def _spacing(spacing: SpacingTally | None) -> Json | None:
    if spacing is None:
        return None
    return {
        "n": int(spacing.n),
        "spacing_mm": _spread(spacing.spacing_mm),
        "interval_ms": _spread(spacing.interval_ms),
        "gap_ms": _spread(spacing.gap_ms),
    }


def _spread(spread: Spread | None) -> Json | None:
    if spread is None:
        return None
    keys = ("min", "p05", "p50", "p95", "max")
    return {key: rounded(getattr(spread, key), _SPACING) for key in keys}
