"""A plan for people, as short tables; and for programs, as JSON."""

import json
import math
from dataclasses import asdict
from typing import Any

from rich.table import Table
from rich.text import Text

from viscount.cli.planning import Planned
from viscount.cli.screen import rendered
from viscount.plan import Coil, Need, clamp_rows
from viscount.plan.coil import HOLDS, PULLS

SCHEMA = "viscount.plan/1"
_UNKNOWN = "-"


def as_json_text(found: Planned) -> str:
    """Return the plan as one JSON object; unknown is null."""
    answer = found.answer
    plain: dict[str, Any] = {
        "schema": SCHEMA,
        "given": asdict(found.given),
        "heights": [asdict(row) for row in answer.heights],
        "empty_s": answer.empty_s,
        "gap_ceiling_s": dict(answer.gap_ceiling_s),
        "camera": [asdict(row) for row in answer.camera],
        "beam": [asdict(row) for row in answer.beam],
        "cuts": [asdict(c) | {"gap_s": c.gap_s, "fits": c.fits} for c in answer.cuts],
        "needs": [
            asdict(need) | {"needed": _finite(need.needed), "enough": need.enough}
            for need in answer.needs
        ],
        "coil": None if found.coil is None else _coil_plain(found.coil),
        "missing": list(found.missing),
        "notes": list(found.notes),
    }
    return json.dumps(plain, allow_nan=False) + "\n"


def as_text(found: Planned) -> str:
    """Return the plan for people."""
    answer = found.answer
    pieces: list[Table | Text] = [_heights(found)]
    if answer.camera:
        pieces += [Text(), _camera(found)]
    if answer.beam:
        pieces += [Text(), _beam(found)]
    if answer.cuts:
        pieces += [Text(), _cuts(found)]
    if found.coil is not None:
        pieces += [Text(), _coil(found.coil)]
    pieces += [Text(), _needs(answer.needs)]
    if found.missing:
        pieces += [Text(), Text("Not known: " + "; ".join(found.missing))]
    for note in found.notes:
        pieces += [Text(), Text(f"Note: {note}")]
    return rendered(*pieces)


def _table(title: str, *columns: str, words: int = 2) -> Table:
    table = Table(title=title, title_justify="left", box=None, padding=(0, 2, 0, 0))
    for number, name in enumerate(columns):
        table.add_column(name, justify="left" if number < words else "right")
    return table


def _heights(found: Planned) -> Table:
    table = _table(
        "Interval, spacing and gap",
        "parts",
        "at",
        "mm below lip",
        "m/s",
        "interval, ms",
        "spacing, mm",
        "gap, ms",
        "gap, mm",
    )
    before = ""
    last = found.answer.heights[-1].place
    for row in found.answer.heights:
        table.add_row(
            "" if row.pair == before else row.pair,
            row.place,
            _said(row.below_lip_mm, 1),
            _said(row.speed_mm_s * 1e-3, 3),
            _said(row.interval_s * 1e3, 2),
            _said(row.spacing_mm, 1),
            _ms(row.gap_s),
            _said(row.gap_mm, 1),
        )
        before = row.pair
        ceiling = found.answer.gap_ceiling_s.get(row.pair)
        if ceiling is not None and row.place == last:
            table.add_row("", "deep", *[""] * 4, _said(ceiling * 1e3, 2), "")
    if found.answer.empty_s is not None:
        table.caption = (
            f"deep: however low, no gap is longer. The column is empty after "
            f"{found.answer.empty_s * 1e3:.0f} ms."
        )
        table.caption_justify = "left"
    return table


def _camera(found: Planned) -> Table:
    table = _table(
        "To the camera: frames in which a part is seen, and at the counting line",
        "parts",
        "seen",
        "whole",
        "step, mm",
        "step / spacing",
        "blur, mm",
        "blur / gap",
        "part, px",
        "readout",
        words=1,
    )
    for row in found.answer.camera:
        table.add_row(
            row.pair,
            _said(row.sightings, 1),
            _said(row.whole_sightings, 1),
            _said(row.step_mm, 1),
            _said(row.displacement_per_spacing, 2),
            _said(row.blur_mm, 2),
            _said(row.blur_per_gap, 2),
            _said(row.length_px, 0),
            _said(row.readout_ratio, 2),
        )
    if any(row.readout_ratio is not None for row in found.answer.camera):
        table.caption = "readout: speed over the pace of the readout"
        table.caption_justify = "left"
    return table


def _beam(found: Planned) -> Table:
    table = _table("At the beam, ms", "parts", "dark", "clear", words=1)
    for row in found.answer.beam:
        dark = "none" if row.dark_s == 0 else _ms(row.dark_s)
        table.add_row(row.pair, dark, "none" if row.clear_s == 0 else _ms(row.clear_s))
    return table


def _cuts(found: Planned) -> Table:
    table = _table(
        "The cut between two parts, after the first one's head is at the beam, ms",
        "parts",
        "tail clears blade",
        "next head arrives",
        "command from",
        "to",
        "least interval",
        words=1,
    )
    for one in found.answer.cuts:
        window = (_ms(one.earliest_s), _ms(one.latest_s))
        if one.fits is False:
            window = ("no time", "will do")
        table.add_row(
            one.pair, _ms(one.clear_s), _ms(one.arrive_s), *window, _ms(one.least_interval_s)
        )
    return table


def _coil_plain(coil: Coil) -> dict[str, Any]:
    return {
        "current_a": coil.current_a,
        "power_w": coil.power_w,
        "energy_j": coil.energy_j,
        "rise": {"share": PULLS, "s": coil.rise_s(PULLS)},
        "falls": [
            {"clamp": row.clamp, "clamp_v": row.clamp_v, "share": share, "s": fall_s}
            for row in clamp_rows(coil)
            for share, fall_s in zip(HOLDS, row.falls_s, strict=True)
        ],
    }


def _coil(coil: Coil) -> Table:
    table = _table(
        "The coil's own time after the command, ms",
        "its current",
        *(f"to {share:.0%}" for share in (PULLS, *HOLDS)),
        words=1,
    )
    table.add_row("rises", _ms(coil.rise_s(PULLS)), "", "")
    for row in clamp_rows(coil):
        table.add_row(f"falls, {row.clamp}", "", *map(_ms, row.falls_s))
    table.caption = (
        f"{coil.current_a:.2g} A, {coil.power_w:.2g} W as long as it is on, "
        f"{1e3 * coil.energy_j:.2g} mJ for the clamp each time. An armature is drawn in, and lets "
        "go, at about these shares; its stroke comes on top, and only measured strokes count."
    )
    table.caption_justify = "left"
    return table


def _needs(needs: tuple[Need, ...]) -> Table:
    table = _table("What is needed", "what", "", "needed", "given", "")
    words = {True: "enough", False: "not enough", None: "unknown"}
    for need in needs:
        unit = f" {need.unit}"
        bound = "at least" if need.least else "at most"
        needed = _UNKNOWN if need.needed is None else _figure(need.needed) + unit
        if need.needed is not None and not math.isfinite(need.needed):
            needed = "no figure will do"
        given = _UNKNOWN if need.given is None else _figure(need.given) + unit
        table.add_row(need.what, bound, needed, given, words[need.enough])
        if need.name == "frame_rate_for_nearness" and need.enough is False:
            table.caption = (
                "Below the rate that needs no speed, parts are followed by a speed that is learned "
                "or given."
            )
            table.caption_justify = "left"
    return table


def _ms(seconds: float | None) -> str:
    return _said(None if seconds is None else seconds * 1e3, 2)


def _said(value: float | None, digits: int) -> str:
    # Adding zero turns a rounded -0.0 into 0.0.
    return _UNKNOWN if value is None else f"{round(value, digits) + 0.0:.{digits}f}"


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def _figure(value: float) -> str:
    """Return a figure with three digits that matter."""
    if not value or not math.isfinite(value):
        return f"{value:g}"
    digits = max(2 - math.floor(math.log10(abs(value))), 0)
    return f"{value:.{digits}f}"
