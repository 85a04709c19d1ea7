"""A plan for people, as short tables; and for programs, as JSON."""

import json
import math
from dataclasses import asdict
from typing import Any

from rich.table import Table
from rich.text import Text

from viscount.cli.planning import Planned
from viscount.cli.screen import rendered
from viscount.plan import Need

SCHEMA = "viscount.plan/1"
_UNKNOWN = "-"


def as_json_text(found: Planned) -> str:
    """Return the plan as one JSON object; unknown is null."""
    answer = found.answer
    plain: dict[str, Any] = {
        "schema": SCHEMA,
        "given": asdict(found.given),
        "heights": [asdict(row) for row in answer.heights],
        "gap_ceiling_s": dict(answer.gap_ceiling_s),
        "camera": [asdict(row) for row in answer.camera],
        "cuts": [asdict(c) | {"gap_s": c.gap_s, "fits": c.fits} for c in answer.cuts],
        "needs": [asdict(need) | {"enough": need.enough} for need in answer.needs],
        "missing": list(found.missing),
    }
    return json.dumps(plain, allow_nan=False) + "\n"


def as_text(found: Planned) -> str:
    """Return the plan for people."""
    answer = found.answer
    pieces: list[Table | Text] = [_heights(found)]
    if answer.camera:
        pieces += [Text(), _camera(found)]
    if answer.cuts:
        pieces += [Text(), _cuts(found)]
    pieces += [Text(), _needs(answer.needs)]
    if found.missing:
        pieces += [Text(), Text("Not known: " + "; ".join(found.missing))]
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
    for row in found.answer.heights:
        table.add_row(
            "" if row.pair == before else row.pair,
            row.place,
            _said(row.below_lip_mm, 1),
            _said(row.speed_mm_s * 1e-3, 3),
            _said(row.interval_s * 1e3, 2),
            _said(row.spacing_mm, 1),
            _said(row.gap_s * 1e3, 2),
            _said(row.gap_mm, 1),
        )
        before = row.pair
    for pair, ceiling in found.answer.gap_ceiling_s.items():
        table.add_row(pair, "deep", *[""] * 4, _said(ceiling * 1e3, 2), "")
    if found.answer.gap_ceiling_s:
        table.caption = "deep: however low, the gap stays below this"
        table.caption_justify = "left"
    return table


def _camera(found: Planned) -> Table:
    table = _table(
        "At the counting line, to the camera",
        "parts",
        "sightings",
        "whole",
        "step, mm",
        "step / spacing",
        "blur, mm",
        "blur / gap",
        "part, px",
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
        )
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


def _needs(needs: tuple[Need, ...]) -> Table:
    table = _table("What is needed", "what", "", "needed", "given", "")
    words = {True: "enough", False: "not enough", None: "unknown"}
    for need in needs:
        unit = f" {need.unit}"
        bound = "at least" if need.least else "at most"
        needed = _UNKNOWN if need.needed is None else _figure(need.needed) + unit
        given = _UNKNOWN if need.given is None else _figure(need.given) + unit
        table.add_row(need.what, bound, needed, given, words[need.enough])
    return table


def _ms(seconds: float | None) -> str:
    return _UNKNOWN if seconds is None else f"{seconds * 1e3:.2f}"


def _said(value: float | None, digits: int) -> str:
    return _UNKNOWN if value is None else f"{value:.{digits}f}"


def _figure(value: float) -> str:
    """Return a figure with three digits that matter."""
    if not value:
        return "0"
    digits = max(2 - math.floor(math.log10(abs(value))), 0)
    return f"{value:.{digits}f}"
