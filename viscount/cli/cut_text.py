"""The plan of a cut for people: what it rests on, the cuts as a table, and what would help."""

from collections.abc import Iterator
from typing import Final

from rich.table import Table
from rich.text import Text

from viscount.cli.cut_advice import advice
from viscount.cli.facts import Fact
from viscount.cli.readable import fact_table, plain_lines
from viscount.cli.screen import on_terminal, rendered
from viscount.gate.rows import CutRow
from viscount.gate.strokes import Moves
from viscount.gate.trials import Outcome
from viscount.offline.cutting import Planned

PLAN_ONLY: Final = (
    "a plan, not a safety function: it moves no gate; the beam's board gives the command, never "
    "the camera"
)
_MOST_ROWS: Final = 24
_UNKNOWN: Final = "-"


def cut_text(found: Planned) -> str:
    """Return the plan for people."""
    before, after = list(_grounds(found)), list(advice(found))
    tables: list[Table | Text] = [_windows(found), Text()]
    if found.strokes is not None:
        tables += [_chances(found), Text()]
    if on_terminal():
        return rendered(fact_table(before), Text(), *tables, fact_table(after))
    return (
        "\n".join(plain_lines(before)) + "\n\n" + rendered(*tables) + "\n".join(plain_lines(after))
    ) + "\n"


def _grounds(found: Planned) -> Iterator[Fact]:
    plan = found.plan
    yield Fact(label="note", text=PLAN_ONLY)
    for one in found.counts:
        pours = f"{one.pours} pour{'s' * (one.pours != 1)}"
        yield Fact(label="source", text=f"{one.source}: {pours}, {one.status.value}")
    places = plan.places
    below = f"the blade is {places.blade - places.beam:.1f} {plan.unit} below the beam"
    yield Fact(label="heights", text=f"{below}, and {places.blade:.1f} {plan.unit} below the line")
    if found.strokes is None:
        text = "no strokes are given: when reach and shut must fall is told, no chance"
        yield Fact(
            label="gate", text=text, advice="measure the gate and name the file by --strokes"
        )
    else:
        yield Fact(label="gate", text=f"shuts: {_moves(found.strokes.shutting, 'reach', 'shut')}")
        if found.strokes.opening is not None:
            words = _moves(found.strokes.opening, "begins", "wholly open")
            yield Fact(label="gate", text=f"opens: {words}")
    late = found.lateness
    if late.latest_s or late.earliest_s:
        text = f"commands come {_ms(late.earliest_s)} to {_ms(late.latest_s)} ms late"
        yield Fact(label="late", text=text)
    for notice in found.notices:
        text = f"{notice.where}: {notice.text}" if notice.where else notice.text
        yield Fact(label=notice.level.value, text=text, advice=notice.code.remedy)


def _moves(moves: Moves, begins: str, done: str) -> str:
    spans = (
        f"{name} {_ms(float(times.min()))} to {_ms(float(times.max()))} ms"
        for name, times in ((begins, moves.begins_s), (done, moves.done_s))
    )
    return f"{', '.join(spans)}, in {len(moves)} stroke{'s' * (len(moves) != 1)}"


def _windows(found: Planned) -> Table:
    given = found.strokes is not None
    table = _table(
        "When: ms after the head of the named part is at the beam",
        "N",
        "after head of",
        "N clears",
        "N+1 arrives",
        *(("from", "to", "delay") if given else ("stroke at most",)),
        "gap",
        "deep",
    )
    for row in _shown(found):
        own = row.trigger
        cells = [_part(row), _ms(own.clear_s), _ms(own.arrive_s)]
        if own.window is None:
            room = own.arrive_s - own.clear_s
            cells.append(_ms(room) if room > 0 else "none will do")
        else:
            fits = own.fits
            start = max(own.window.earliest_s, 0.0)
            cells += [_ms(start), _ms(own.window.latest_s)] if fits else ["no", "time"]
            cells.append(_ms(own.delay_s))
        table.add_row(str(row.number), *cells, _ms(row.gap_s), _ms(row.gap_ceiling_s))
    table.caption = (
        "clears, arrives: at the blade, in the worst pour, two sigma kept. from, to: the command, "
        "for every pour and stroke. delay: the likeliest. gap: clear time at the blade; deep: what "
        "it tends to as the blade goes down."
        if given
        else "clears, arrives: at the blade, in the worst pour, two sigma kept. stroke: greatest "
        "shut less least reach. gap: clear time at the blade; deep: what it tends to as the blade "
        "goes down."
    )
    table.caption_justify = "left"
    return table


def _chances(found: Planned) -> Table:
    table = _table(
        "How likely in pours to come, in %",
        "N",
        "exact",
        "at 95 %",
        "short",
        "over",
        "pinched",
        "held",
        "pours",
        "reaches",
    )
    for row in _shown(found):
        outcome = row.outcome
        cells = [_UNKNOWN] * 6 if outcome is None else list(_outcome(outcome))
        if outcome is None:
            cells[0] = "0"
        table.add_row(str(row.number), *cells, str(row.pours), _reaches(row))
    alone = any(row.pours == 1 for row in _shown(found))
    table.caption = (
        "Each pour and stroke is tried with the delay that the others choose"
        + (" (where pours is 1: the one pour, with its own)" if alone else "")
        + ". at 95 %: limits of exact, for so few pours and strokes. held: parts between beam and "
        "blade as it shuts; they lie on it and belong to the next bag. reaches: "
        f"{100 * found.plan.rate:g} %, as estimated, or promised by the lower limit."
    )
    table.caption_justify = "left"
    return table


def _outcome(outcome: Outcome) -> Iterator[str]:
    yield _percent(outcome.exact.estimate)
    yield f"{_percent(outcome.exact.low)} to {_percent(outcome.exact.high)}"
    for chance in (outcome.short, outcome.over, outcome.pinched):
        yield _percent(chance.estimate)
    held = outcome.held_past_beam
    yield (
        f"{held.median:g}" if held.median == held.most else f"{held.median:g}, at most {held.most}"
    )


def _reaches(row: CutRow) -> str:
    if row.promised:
        return "promised"
    return "estimated" if row.expected else "no"


def _shown(found: Planned) -> list[CutRow]:
    """Return the rows that a table has room for: the first that fails among them."""
    rows = found.plan.rows
    if len(rows) <= _MOST_ROWS:
        return list(rows)
    fails = next((i for i, row in enumerate(rows) if row.expected is False), len(rows) // 2)
    step = -(-len(rows) // (_MOST_ROWS - 6))
    near = range(max(fails - 2, 0), min(fails + 3, len(rows)))
    return [rows[i] for i in sorted({*range(0, len(rows), step), *near, len(rows) - 1})]


def _table(title: str, *columns: str) -> Table:
    table = Table(title=title, title_justify="left", box=None, padding=(0, 2, 0, 0))
    for name in columns:
        table.add_column(name, justify="right")
    return table


def _part(row: CutRow) -> str:
    return str(row.number - row.trigger.back)


def _percent(chance: float) -> str:
    """Return a chance in %, never rounded up to certainty or down to nothing."""
    if chance in (0.0, 1.0):
        return f"{100 * chance:.0f}"
    return f"{min(max(100 * chance, 0.1), 99.9):.1f}"


def _ms(seconds: float | None) -> str:
    return _UNKNOWN if seconds is None else f"{round(1e3 * seconds, 2) + 0.0:.2f}"
