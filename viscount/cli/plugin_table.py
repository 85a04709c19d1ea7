"""The table of plugins, for people and for programs."""

import json
from collections.abc import Sequence
from dataclasses import asdict

from rich.table import Table
from rich.text import Text

from viscount.cli.screen import on_terminal, rendered, shown
from viscount.hooks.registry import PluginRow

SCHEMA = "viscount.plugins/1"


def plugins_json(rows: Sequence[PluginRow]) -> str:
    """Return the rows as one JSON object."""
    return json.dumps({"schema": SCHEMA, "plugins": [asdict(row) for row in rows]}) + "\n"


def plugins_text(rows: Sequence[PluginRow]) -> str:
    """Return the rows for people."""
    if not on_terminal():
        return "".join(f"{_line(row)}\n" for row in rows)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for column in ("kind", "name", "from"):
        table.add_column(column)
    table.add_column("what it is, or why it was refused", overflow="fold")
    for row in rows:
        style = "red" if row.refused else ""
        cells = (row.kind, row.name, row.origin, _about(row))
        table.add_row(*(Text(shown(cell), style=style) for cell in cells))
    return rendered(table)


def _about(row: PluginRow) -> str:
    return f"REFUSED: {row.reason}" if row.refused else row.summary


def _line(row: PluginRow) -> str:
    return shown(f"{row.kind} {row.name} ({row.origin}): {_about(row)}")
