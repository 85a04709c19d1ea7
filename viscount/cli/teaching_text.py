"""What was taught, for people line by line, and for programs as JSON."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from rich.text import Text

from viscount.cli.facts import Fact
from viscount.cli.readable import fact_table, plain_lines
from viscount.cli.screen import on_terminal, rendered, shown
from viscount.outlet.taught import Chance, Measured, Taught
from viscount.teaching.teach import TaughtPart

SCHEMA: Final = "viscount.teach/1"


def taught_json_text(found: TaughtPart, path: Path, *, laid_out: bool) -> str:
    """Return what was taught as one JSON object, on one line or laid out over several."""
    keys: dict[str, Any] = {
        "schema": SCHEMA,
        "made_by": found.made_by,
        "part_file": str(path),
        "clips": [{"source": name, "parts": parts} for name, parts in found.clips],
        "warnings": [{"code": one.code.code, "text": one.text} for one in found.warnings],
        "part": found.part.model_dump(mode="json", exclude_unset=True),
    }
    return json.dumps(keys, allow_nan=False, indent=2 if laid_out else None) + "\n"


def taught_text(found: TaughtPart, path: Path) -> str:
    """Return what was taught for people."""
    taught = found.part.taught
    assert taught is not None
    head = shown(f"{path}: {found.part.name}, taught by {taught.singles} single parts")
    if not on_terminal():
        return "\n".join([head, *plain_lines(_facts(found, taught))]) + "\n"
    return rendered(Text(head, style="bold green"), Text(), fact_table(_facts(found, taught)))


def _facts(found: TaughtPart, taught: Taught) -> Iterator[Fact]:
    unit = taught.unit
    yield Fact(label="length", text=f"{_spread(taught.length, unit)} along the fall")
    yield Fact(label="area", text=_spread(taught.area, f"{unit}²"))
    if taught.smear:
        yield Fact(label="smear", text=f"the exposure makes parts {taught.smear:.2g} {unit} longer")
    if taught.beam is not None:
        yield Fact(label="pulse", text=_spread(taught.beam.pulse, unit))
        yield Fact(label="one pulse", text=_chance(taught.beam.one_pulse))
        yield Fact(label="two pulses", text=_chance(taught.beam.two_pulses))
        yield Fact(label="no pulse", text=_chance(taught.beam.unseen))
    if taught.scale_px_per_mm is None:
        text = "no scale is known, so that all is in px: good for this outlet and view alone"
        yield Fact(label="note", text=text, advice="set view.scale_px_per_mm in the outlet file")
    for one in found.warnings:
        yield Fact(label="note", text=one.text, advice=one.code.remedy)
    for name, parts in found.clips:
        yield Fact(label="source", text=f"{name}: {parts} parts")


def _spread(measured: Measured, unit: str) -> str:
    span = f"{measured.p05:.3g} to {measured.p95:.3g}"
    return f"{measured.median:.3g} {unit}, nine of ten from {span}"


def _chance(chance: Chance) -> str:
    interval = f"{100 * chance.low:.0f} to {100 * chance.high:.0f} %"
    return f"{chance.parts} parts, {100 * chance.chance:.0f} % ({interval})"
