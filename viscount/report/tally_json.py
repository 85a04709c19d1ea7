"""The tally as one JSON object, schema ``viscount.tally/1``: other programs read this."""

import math
from collections.abc import Iterable
from typing import Any

from viscount.tally import (
    SCHEMA,
    Assumption,
    CountedPassage,
    FileMark,
    FrameTally,
    PourTally,
    Reason,
    SpacingTally,
    Spread,
    Tally,
)

Json = dict[str, Any]

# Decimals that each kind of figure is rounded to: finer than anything it can know.
_SECONDS = 9
_SPEED = 3
_PIXELS = 3
_RATE = 6
_SPACING = 6
_SIGNIFICANT = 9


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
        "count": _whole(tally.count),
        "count_low": int(tally.count_low),
        "count_high": int(tally.count_high),
        "confidence": float(tally.confidence),
        "expected": _whole(tally.expected),
        "as_expected": tally.as_expected,
        "counted_at": tally.counted_at,
        "in_bag": _whole(tally.in_bag),
        "held": _whole(tally.held),
        "status": tally.status.value,
        "reasons": _reasons(tally.reasons),
        "assumed": [_assumption(one) for one in tally.assumed],
        "camera": {
            "count": int(camera.count),
            "against": int(camera.against),
            "status": camera.status.value,
            "reasons": _reasons(camera.reasons),
        },
        "beam": None,
        "pours": [_pour(one) for one in tally.pours],
        "passages": [_passage(one) for one in tally.passages],
        "frames": _frames(tally.frames),
        "agreement": None,
        "spacing": _spacing(tally.spacing),
    }


def _file(mark: FileMark | None) -> Json | None:
    return None if mark is None else {"name": mark.name, "sha256": mark.sha256}


def _reasons(reasons: Iterable[Reason]) -> list[Json]:
    return [{"code": one.code.code, "text": one.text} for one in reasons]


def _assumption(one: Assumption) -> Json:
    value = one.value
    if value is not None and not isinstance(value, str | bool):
        # A whole number stays one: 180, not 180.0.
        value = int(value) if isinstance(value, int) else _significant(float(value))
    return {"code": one.code.code, "text": one.text, "value": value, "unit": one.unit}


def _pour(pour: PourTally) -> Json:
    return {
        "start_s": _rounded(pour.start_s, _SECONDS),
        "end_s": _rounded(pour.end_s, _SECONDS),
        "count": _whole(pour.count),
        "count_low": int(pour.count_low),
        "count_high": int(pour.count_high),
        "status": pour.status.value,
        "reasons": _reasons(pour.reasons),
    }


def _passage(counted: CountedPassage) -> Json:
    passage = counted.passage
    return {
        "id": int(passage.id),
        "pour": int(counted.pour),
        "time_s": _rounded(passage.t_ns * 1e-9, _SECONDS),
        "sigma_s": _rounded(passage.sigma_ns * 1e-9, _SECONDS),
        "direction": passage.direction.value,
        "basis": passage.basis.value,
        "speed_px_s": _rounded(passage.speed_px_s, _SPEED),
        "speed_mm_s": _rounded(counted.speed_mm_s, _SPEED),
        "across_px": _rounded(passage.across_px, _PIXELS),
        "parts": int(passage.parts),
        "doubt": _significant(passage.doubt),
        "frames": [int(passage.first_frame), int(passage.last_frame)],
    }


def _frames(frames: FrameTally) -> Json:
    return {
        "read": int(frames.read),
        "lost": int(frames.lost),
        "repeated": int(frames.repeated),
        "damaged": int(frames.damaged),
        "rate_hz": _rounded(frames.rate_hz, _RATE),
        "blind_s": _rounded(frames.blind_s, _SECONDS),
        "blind": [[_rounded(a, _SECONDS), _rounded(b, _SECONDS)] for a, b in frames.blind],
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
    return {key: _rounded(getattr(spread, key), _SPACING) for key in keys}


def _whole(value: int | None) -> int | None:
    return None if value is None else int(value)


def _rounded(value: float | None, places: int) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    # Adding zero turns -0.0 into 0.0.
    return round(float(value), places) + 0.0


def _significant(value: float) -> float | None:
    return float(f"{value:.{_SIGNIFICANT}g}") + 0.0 if math.isfinite(value) else None
