"""What an outlet file says, in words: what is set, and what is left open."""

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from viscount.cli.screen import on_terminal, rendered, shown
from viscount.outlet import Outlet, given_keys, unit_of
from viscount.outlet.keys import section_of

_TAUGHT = "part.taught."


def outlet_text(name: str, outlet: Outlet) -> str:
    """Return what an outlet file sets, key by key with units, then what it leaves open."""
    given = given_keys(outlet)
    rows = [
        (key, _value(_at(outlet, key)), unit_of(key) or "")
        for key in given
        if not key.startswith(_TAUGHT)
    ]
    rows += _taught_rows(outlet)
    still = [key for key in _keys(Outlet) if not _is_given(key, given)]
    if on_terminal():
        return _drawn(shown(name), rows, still)
    lines = [f"{shown(name)}: {_headline(len(rows))}"]
    lines += [f"{key} = {shown(value)} {unit}".rstrip() for key, value, unit in rows]
    lines.append("left to defaults, or learned from the recording:")
    lines += still
    return "\n".join(lines) + "\n"


def _taught_rows(outlet: Outlet) -> list[tuple[str, str, str]]:
    """Return one row for all that teaching has written."""
    taught = None if outlet.part is None else outlet.part.taught
    if taught is None:
        return []
    return [(_TAUGHT.rstrip("."), f"from {taught.singles} single parts", "")]


def _drawn(name: str, rows: list[tuple[str, str, str]], still: list[str]) -> str:
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    table = Table.grid(padding=(0, 2, 0, 0))
    for key, value, unit in rows:
        table.add_row(Text(key, style="bold"), Text(shown(value)), Text(unit))
    return rendered(
        Text.assemble((name, "bold"), f": {_headline(len(rows))}"),
        Padding(table, (1, 0, 1, 2)),
        Text("Left to defaults, or learned from the recording:"),
        Padding(Text(", ".join(still)), (0, 0, 0, 2)),
    )


def _headline(count: int) -> str:
    keys = "key is" if count == 1 else "keys are"
    return f"a valid outlet file; {count} {keys} set"


def _keys(model: type[BaseModel]) -> Iterator[str]:
    """Yield every key that can be set, as ``view.line_px``."""
    for name in model.model_fields:
        section = section_of(model, name)
        if section is None:
            yield name
        else:
            keys = (f"{name}.{inner}" for inner in _keys(section))
            yield from (key for key in keys if not key.startswith(_TAUGHT))


def _is_given(key: str, given: tuple[str, ...]) -> bool:
    """Say whether a key, or the other one of a pair of which only one may stand, is set."""
    section = key.rpartition(".")[0]
    pair = {f"{section}.below_lip_mm", f"{section}.at_px"}
    return key in given or (key in pair and not pair.isdisjoint(given))


def _at(outlet: Outlet, key: str) -> Any:
    value: Any = outlet
    for name in key.split("."):
        value = getattr(value, name)
    return value


def _value(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, tuple):
        return str(list(value))
    return str(value)
