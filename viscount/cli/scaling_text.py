"""What was measured of scale and line time, for people as tables, and for programs as JSON."""

import json
import math
from collections.abc import Iterator, Sequence
from typing import Any, Final

from rich.table import Table
from rich.text import Text

from viscount.cli.facts import Fact
from viscount.cli.readable import fact_table, plain_lines
from viscount.cli.scaling import Change
from viscount.cli.screen import on_terminal, rendered, shown
from viscount.measure.line_time.estimate import LineBy, LineTime
from viscount.measure.scale.budget import Budget
from viscount.measure.scale.way import Way
from viscount.scaling.answer import Scaled
from viscount.values import Level, Status

SCHEMA: Final = "viscount.scale/1"

_COLOURS = {Status.CLEAN: "green", Status.DOUBTFUL: "yellow", Status.INVALID: "red"}
_NONE = "-"


def scaled_json_text(found: Scaled, changes: Sequence[Change], *, laid_out: bool) -> str:
    """Return what was found as one JSON object, on one line or laid out over several."""
    mark, scale, line = found.outlet, found.scale, found.line_time
    keys: dict[str, Any] = {
        "schema": SCHEMA,
        "made_by": found.made_by,
        "sources": list(found.sources),
        "outlet": None if mark is None else {"name": mark.name, "sha256": mark.sha256},
        "status": found.status.value,
        "reasons": [_reason(one) for one in found.reasons],
        "scale_px_per_mm": None if scale is None else _figures(scale.value, scale.budget),
        "ways": [_way(way) for way in found.ways],
        "line_time_us": None
        if line is None or line.seconds is None
        else _figures(1e6 * line.seconds, line.budget.scaled(1e6)),
        "readout": None if line is None or line.readout is None else line.readout.value,
        "line_time_ways": [_line(way) for way in found.line_ways],
        "before": {
            "scale_px_per_mm": found.old_scale_px_per_mm,
            "line_time_us": found.old_line_time_us,
        },
        "written": [{"key": c.key, "before": c.before, "now": c.now} for c in changes],
    }
    return json.dumps(keys, allow_nan=False, indent=2 if laid_out else None) + "\n"


def _reason(one: Any) -> dict[str, str]:
    return {"level": one.level.value, "code": one.code.code, "text": one.text}


def _figures(value: float, budget: Budget) -> dict[str, Any]:
    freedom = budget.freedom
    return {
        "value": _plain(value),
        "standard_uncertainty": _plain(budget.u),
        "degrees_of_freedom": _plain(freedom) if math.isfinite(freedom) else None,
        "expanded_95": _plain(budget.expanded),
        "inputs": [{"name": one.name, "u": _plain(one.u)} for one in budget.inputs],
    }


def _way(way: Way) -> dict[str, Any]:
    found = {"value": None} if way.value is None else _figures(way.value, way.budget)
    return {
        "by": way.by.value,
        "source": way.source,
        **found,
        "what": way.what,
        "change_over_view": _plain(way.change),
        "change_over_view_u": _plain(way.change_u),
        "reasons": [_reason(one) for one in way.notices],
    }


def _line(way: LineTime) -> dict[str, Any]:
    found: dict[str, Any] = {"value": None}
    if way.seconds is not None:
        found = _figures(1e6 * way.seconds, way.budget.scaled(1e6))
    return {
        "by": way.by.value,
        "source": way.source,
        **found,
        "readout": None if way.readout is None else way.readout.value,
        "what": way.what,
        "reasons": [_reason(one) for one in way.notices],
    }


def _plain(value: float | None) -> float | None:
    return float(f"{value:.6g}") if value is not None and math.isfinite(value) else None


def scaled_text(found: Scaled, changes: Sequence[Change], *, wanted: bool = False) -> str:
    """Return what was found for people; `wanted`: it was to be written."""
    head = shown(_headline(found))
    pieces: list[Table | Text] = [Text(head, style=f"bold {_COLOURS[found.status]}"), Text()]
    if found.ways:
        pieces += [_ways(found), Text()]
    if found.line_ways:
        pieces += [_line_ways(found), Text()]
    facts = list(_facts(found, changes, wanted=wanted))
    if on_terminal():
        return rendered(*pieces, fact_table(facts))
    return rendered(*pieces) + "\n".join(plain_lines(facts)) + "\n"


def _headline(found: Scaled) -> str:
    said = []
    if found.scale is not None:
        said.append(f"{_with(found.scale.value, found.scale.budget)} px/mm along the fall")
    elif any(way.value is not None for way in found.ways):
        said.append("no scale: the ways to it disagree")
    elif found.ways:
        said.append("no scale")
    line = found.line_time
    if line is not None and line.seconds is not None:
        said.append(f"{_with(1e6 * line.seconds, line.budget.scaled(1e6))} us a line")
    elif any(w.seconds is not None and w.by is not LineBy.FALL for w in found.line_ways):
        said.append("no line time: the ways to it disagree")
    elif any(way.by is not LineBy.FALL for way in found.line_ways) or not said:
        said.append("no line time")
    return f"{'; '.join(said)}: {found.status.value}"


def _ways(found: Scaled) -> Table:
    table = _table("The scale, px/mm", "way", "scale", "± (95 %)", "", "what dominates")
    for way in found.ways:
        table.add_row(way.by.value, *_cells(way.value, way.budget))
    if found.scale is not None and len(found.ways) > 1:
        table.add_row("together", *_cells(found.scale.value, found.scale.budget))
    return table


def _line_ways(found: Scaled) -> Table:
    table = _table("The line time, us", "way", "line time", "± (95 %)", "", "what dominates")
    for way in found.line_ways:
        value = None if way.seconds is None else 1e6 * way.seconds
        table.add_row(way.by.value, *_cells(value, way.budget.scaled(1e6)))
    return table


def _cells(value: float | None, budget: Budget) -> tuple[str, str, str, str]:
    if value is None:
        return (_NONE, "", "", "refused")
    most, half = budget.dominant, budget.expanded
    share = f"{100 * half / value:.1f} %" if value > half else ""
    dominant = "" if most is None else most.name
    return (_to(value, half), _to(half, half), share, dominant)


def _table(title: str, *columns: str) -> Table:
    table = Table(title=title, title_justify="left", box=None, padding=(0, 2, 0, 0))
    for number, name in enumerate(columns):
        table.add_column(name, justify="right" if 0 < number < len(columns) - 1 else "left")
    return table


def _with(value: float, budget: Budget) -> str:
    return f"{_to(value, budget.expanded)} ± {_to(budget.expanded, budget.expanded)}"


def _to(value: float, half: float) -> str:
    """Return a value to the second digit of its uncertainty (JCGM 100, 7.2.6)."""
    if not half > 0:
        return f"{value:.5g}"
    digits = max(1 - math.floor(math.log10(half)), 0)
    return f"{value:.{digits}f}"


def _facts(found: Scaled, changes: Sequence[Change], *, wanted: bool) -> Iterator[Fact]:
    for one in found.reasons:
        label = {Level.INVALID: "refused", Level.DOUBT: "doubt", Level.INFO: "note"}[one.level]
        yield Fact(label=label, text=one.text, advice=one.code.remedy)
    for way in found.ways:
        if way.value is not None:
            yield Fact(label=way.by.value, text=f"{way.what}; {_inputs(way.budget, way.value)}")
            if way.change is not None and way.change_u is not None:
                text = f"by {way.by.value} the scale changes by {100 * way.change:+.1f} ± "
                text += f"{200 * way.change_u:.1f} % over the view, downstream"
                yield Fact(label="along", text=text)
    for line in found.line_ways:
        if line.seconds and line.by is LineBy.FALL:
            text = f"{line.what}: a check, along the fall"
            yield Fact(label=line.by.value, text=text)
        elif line.seconds:
            text = f"{line.what}; {_inputs(line.budget, line.seconds)}"
            yield Fact(label=line.by.value, text=f"{text}; {line.source}")
        elif line.seconds == 0.0:
            yield Fact(label=line.by.value, text=f"{line.what}; {line.source}")
    if found.line_time is not None and found.line_time.readout is not None:
        yield Fact(label="readout", text=f"{found.line_time.readout.value} in the picture")
    if wanted and not changes:
        text = (
            "nothing was found" if found.status is Status.INVALID else "what was found is doubtful"
        )
        advice = "" if found.status is Status.INVALID else "--force writes it all the same"
        yield Fact(label="outlet", text=f"not written: {text}", advice=advice)
    yield from _before(found, changes)
    for source in found.sources:
        yield Fact(label="source", text=source)


def _inputs(budget: Budget, value: float) -> str:
    """Return the inputs that matter, as shares of the value, the greatest first."""
    u = budget.u
    most = sorted((i for i in budget.inputs if i.u > 0.1 * u), key=lambda i: -i.u)
    return "u: " + ", ".join(f"{one.name} {100 * one.u / value:.2g} %" for one in most)


def _before(found: Scaled, changes: Sequence[Change]) -> Iterator[Fact]:
    if found.outlet is None:
        return
    name = found.outlet.name
    if changes:
        for one in changes:
            was = "was not there" if one.before is None else f"was {one.before:.5g}"
            yield Fact(label="written", text=f"{name}: {one.key} is {one.now:.5g}, {was}")
        return
    old = found.old_scale_px_per_mm
    if old is not None and found.scale is not None:
        off = 100 * (old / found.scale.value - 1)
        yield Fact(label="outlet", text=f"{name} says {old:.5g} px/mm, {off:+.1f} %")
    old_us, line = found.old_line_time_us, found.line_time
    if old_us is not None and line is not None and line.seconds is not None:
        yield Fact(label="outlet", text=f"{name} says {old_us:.5g} us a line")
