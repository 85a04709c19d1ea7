"""A tally for people: large on a terminal, plain lines elsewhere. And for programs: JSON."""

import json
from collections.abc import Iterable

from rich.table import Table
from rich.text import Text

from viscount.cli.facts import Fact, facts, status_words
from viscount.cli.screen import can_show, on_terminal, rendered, shown
from viscount.report.tally_json import tally_json
from viscount.tally import Tally
from viscount.values import Status

_COLOURS = {Status.CLEAN: "green", Status.DOUBTFUL: "yellow", Status.INVALID: "red"}
_LABEL = 10
_DIGITS = {
    "0": ("█▀█", "█ █", "▀▀▀"),
    "1": ("▀█ ", " █ ", "▀▀▀"),
    "2": ("▀▀█", "█▀▀", "▀▀▀"),
    "3": ("▀▀█", " ▀█", "▀▀▀"),
    "4": ("█ █", "▀▀█", "  ▀"),
    "5": ("█▀▀", "▀▀█", "▀▀▀"),
    "6": ("█▀▀", "█▀█", "▀▀▀"),
    "7": ("▀▀█", "  █", "  ▀"),
    "8": ("█▀█", "█▀█", "▀▀▀"),
    "9": ("█▀█", "▀▀█", "▀▀▀"),
    "-": ("   ", "▀▀▀", "   "),
    "?": ("▀▀█", " ▀▀", " ▀ "),
}


def as_json_text(tally: Tally, *, laid_out: bool) -> str:
    """Return the tally as one JSON object, on one line or laid out over several."""
    return json.dumps(tally_json(tally), allow_nan=False, indent=2 if laid_out else None) + "\n"


def as_text(tally: Tally) -> str:
    """Return the tally for people."""
    if not on_terminal():
        return "\n".join([_headline(tally), *plain_lines(facts(tally))]) + "\n"
    return rendered(_large_headline(tally), Text(), fact_table(facts(tally)))


def plain_lines(lines: Iterable[Fact]) -> list[str]:
    """Return facts as lines of text, each on a line of its own however long."""
    made = []
    lines = list(lines)
    width = max([_LABEL, *(len(fact.label) + 2 for fact in lines)])
    for fact in lines:
        made.append(f"{fact.label:<{width}}{_line(fact.text)}")
        if fact.advice:
            made.append(f"{'':<{width}}to do: {_line(fact.advice)}")
    return made


def fact_table(lines: Iterable[Fact]) -> Table:
    """Return facts as a table for a terminal; a label that repeats is shown once."""
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(style="bold", no_wrap=True, min_width=_LABEL - 2)
    table.add_column(overflow="fold")
    before = ""
    for fact in lines:
        table.add_row("" if fact.label == before else fact.label, Text(_line(fact.text)))
        if fact.advice:
            table.add_row("", Text(f"to do: {_line(fact.advice)}", style="italic"))
        before = fact.label
    return table


def _line(text: str) -> str:
    """Return text on one line."""
    return shown(" ".join(text.split()) if "\n" in text else text)


def _headline(tally: Tally) -> str:
    if tally.count is None:
        return status_words(tally)
    parts = "part" if tally.count == 1 else "parts"
    return f"{tally.count} {parts} through the line: {status_words(tally)}"


def _large_headline(tally: Tally) -> Table | Text:
    style = f"bold {_COLOURS[tally.status]}"
    number = "?" if tally.count is None else str(tally.count)
    rows = [" ".join(_DIGITS[digit][row] for digit in number) for row in range(3)]
    if not can_show("".join(rows)):
        return Text(_headline(tally), style=style)
    table = Table.grid(padding=(0, 3, 0, 0))
    beside = "no count" if tally.count is None else "parts through the line"
    for row, text in zip(rows, ("", beside, status_words(tally)), strict=True):
        table.add_row(Text(row, style=style, no_wrap=True), Text(text, style=style))
    return table
