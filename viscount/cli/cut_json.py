"""The plan of a cut as one JSON object, for programs. Times in ms; unknown is null."""

import json
import math
from typing import Any, Final

from viscount.cli.cut_text import PLAN_ONLY
from viscount.gate.limits import CONFIDENCE, Chance
from viscount.gate.remedies import Remedies
from viscount.gate.rows import CutRow, Trigger
from viscount.gate.strokes import Floats, Moves
from viscount.gate.trials import Held, Outcome
from viscount.offline.cutting import Planned
from viscount.tally import FileMark
from viscount.values import Level

SCHEMA: Final = "viscount.cut/1"

Json = dict[str, Any]


def cut_json_text(found: Planned, *, laid_out: bool) -> str:
    """Return the plan as one JSON object, on one line or laid out over several."""
    return json.dumps(_plan(found), allow_nan=False, indent=2 if laid_out else None) + "\n"


def _plan(found: Planned) -> Json:
    plan, places, late = found.plan, found.plan.places, found.lateness
    said = [(n.level, {"code": n.code.value, "text": n.text}) for n in found.notices]
    return {
        "schema": SCHEMA,
        "made_by": found.made_by,
        "note": PLAN_ONLY,
        "status": found.status.value,
        "reasons": [words for level, words in said if level is Level.DOUBT],
        "notes": [words for level, words in said if level is not Level.DOUBT],
        "sources": [
            {"source": c.source, "status": c.status.value, "pours": c.pours} for c in found.counts
        ],
        "outlet": _file(found.outlet),
        "part": _file(found.part),
        "strokes": _strokes(found),
        "unit": plan.unit,
        "beam_below_line": _figure(places.beam),
        "blade_below_line": _figure(places.blade),
        "beam_sigma": _figure(places.sigma_beam),
        "blade_sigma": _figure(places.sigma_blade),
        "late_ms": [_ms(late.earliest_s), _ms(late.latest_s)],
        "rate": plan.rate,
        "confidence": CONFIDENCE,
        "pours": plan.pours,
        "needed": plan.needed,
        "expected_up_to": plan.expected_up_to,
        "largest_expected": plan.largest_expected,
        "largest_promised": plan.largest_promised,
        "cuts": [_row(row, plan.strokes) for row in plan.rows],
        "remedies": None if plan.remedies is None else _remedies(plan.remedies, plan.unit),
    }


def _row(row: CutRow, strokes: int) -> Json:
    return {
        "n": row.number,
        "pours": row.pours,
        "trigger": _trigger(row.trigger),
        "outcome": None if row.outcome is None else _outcome(row.outcome, _left_out(row, strokes)),
        "expected": row.expected,
        "promised": row.promised,
        "doubt": _figure(row.doubt),
        "gap_ms": _ms(row.gap_s),
        "gap_ceiling_ms": _ms(row.gap_ceiling_s),
        "interval_ms": _ms(row.interval_s),
        "least_interval_ms": _ms(row.least_interval_s),
        "beam_gap_ms": _ms(row.beam_gap_s),
        "triggers": [_trigger(other) for other in row.triggers],
    }


def _trigger(own: Trigger) -> Json:
    span = own.window
    return {
        "parts_before_n": own.back,
        "clear_ms": _ms(own.clear_s),
        "arrive_ms": _ms(own.arrive_s),
        "earliest_ms": None if span is None else _ms(span.earliest_s),
        "latest_ms": None if span is None else _ms(span.latest_s),
        "fits": own.fits,
        "delay_ms": _ms(own.delay_s),
        "delay_as_good_ms": None if own.delay_s is None else [_ms(own.least_s), _ms(own.most_s)],
        "exact": _figure(own.chance),
    }


def _left_out(row: CutRow, strokes: int) -> list[str]:
    """Return what was left out as delays were chosen: one alone cannot be."""
    return [name for name, many in (("pours", row.pours), ("strokes", strokes)) if many > 1]


def _outcome(outcome: Outcome, left_out: list[str]) -> Json:
    return {
        "left_out": left_out,
        "exact": _chance(outcome.exact),
        "short": _chance(outcome.short),
        "over": _chance(outcome.over),
        "pinched": _chance(outcome.pinched),
        "held_past_beam": _held(outcome.held_past_beam),
        "held_past_line": _held(outcome.held_past_line),
    }


def _chance(chance: Chance) -> Json:
    return {
        "chance": _figure(chance.estimate),
        "low": _figure(chance.low),
        "high": _figure(chance.high),
    }


def _held(held: Held | None) -> Json | None:
    return None if held is None else {"p50": held.median, "max": held.most}


def _remedies(found: Remedies, unit: str) -> Json:
    lower = _figure(found.lower_by)
    return {
        "n": found.number,
        "parts_before_n": found.back,
        "enough": found.enough,
        "need_ms": _ms(found.need_s),
        "unsure_ms": _ms(found.unsure_s),
        "room_ms": _ms(found.room_s),
        "room_ceiling_ms": _ms(found.ceiling_s),
        "blade_lower_by_mm": lower if unit == "mm" else None,
        "blade_lower_by_px": lower if unit == "px" else None,
        "intervals_times": _figure(found.slower),
        "column_slides_slower": found.column_at_lip,
        "single_interval_ms": _ms(found.single_interval_s),
        "stroke_at_most_ms": _ms(found.stroke_s),
        "shut_at_most_ms": _ms(found.shut_s),
    }


def _strokes(found: Planned) -> Json | None:
    if found.strokes is None:
        return None
    opening = found.strokes.opening
    return {
        **(_file(found.strokes_file) or {}),
        "shutting": _moves(found.strokes.shutting, "reach_ms", "shut_ms"),
        "opening": None if opening is None else _moves(opening, "begins_ms", "open_ms"),
    }


def _moves(moves: Moves, begins: str, done: str) -> Json:
    return {
        "n": len(moves),
        "first_motion_ms": _spread(moves.first_motion_s),
        begins: _spread(moves.begins_s),
        done: _spread(moves.done_s),
    }


def _spread(times_s: Floats) -> Json | None:
    known = sorted(1e3 * float(t) for t in times_s if math.isfinite(t))
    if not known:
        return None
    middle = (known[(len(known) - 1) // 2] + known[len(known) // 2]) / 2
    return {"min": _figure(known[0]), "p50": _figure(middle), "max": _figure(known[-1])}


def _file(mark: FileMark | None) -> Json | None:
    return None if mark is None else {"name": mark.name, "sha256": mark.sha256}


def _ms(seconds: float | None) -> float | None:
    return None if seconds is None else _figure(1e3 * seconds)


def _figure(value: float | None) -> float | None:
    """Return a number with nine digits; None for one that is not finite."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.9g}") + 0.0
