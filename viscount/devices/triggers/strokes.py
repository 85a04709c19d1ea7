"""Reads the measured strokes of a gate: one row for each stroke.

A CSV file in UTF-8. Its header is ``direction,begins_ms,done_ms`` or, where first motion was
measured too, ``direction,first_motion_ms,begins_ms,done_ms``. Lines that begin with ``#`` are
remarks; ``# sigma_ms 0.3`` states how well each time is known. ``direction`` is ``shut`` or
``open``. All times are ms after the command:

- ``first_motion_ms``: the blade first moves; may be left empty;
- ``begins_ms``: the stream begins to close (the blade enters it: *reach*), or to open;
- ``done_ms``: the stream is closed and any rebound over (*shut*), or wholly open.
"""

import re
from pathlib import Path
from typing import Final

import numpy as np

from viscount.errors import SourceError
from viscount.gate.strokes import Moves, Strokes

LONGEST_MS: Final = 60_000.0
MOST_ROWS: Final = 100_000
_PLAIN: Final = ("direction", "begins_ms", "done_ms")
_FULL: Final = ("direction", "first_motion_ms", "begins_ms", "done_ms")
_HEADERS: Final = f"{','.join(_PLAIN)} or {','.join(_FULL)}"
_SIGMA: Final = re.compile(r"\s*#\s*sigma_ms\s+(\S+)\s*", re.IGNORECASE)
_NUMBER: Final = re.compile(r"[0-9]{1,6}(?:\.[0-9]{0,9})?")
_SHOWN: Final = 60

_Times = tuple[float, float, float]


def read_strokes(path: str | Path) -> Strokes:
    """Return the strokes of a file.

    Raises
    ------
    SourceError
        For a file that cannot be read, and the first row that is none; names the row and column.
    """
    path = Path(path)
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except OSError as error:
        raise SourceError(
            f"the strokes cannot be read ({error.strerror or error})",
            where=str(path),
            remedy="check the path",
        ) from None
    except UnicodeDecodeError:
        raise SourceError(
            "no text in UTF-8", where=str(path), remedy="save the file as CSV in UTF-8"
        ) from None
    found = _rows(path, lines)
    if "shut" not in found:
        raise SourceError(
            "no stroke that shuts",
            where=str(path),
            allowed="one or more rows such as shut,8.2,12.4",
            remedy="measure how the gate shuts: that is what cuts",
        )
    moves = {direction: _moves(rows) for direction, rows in found.items()}
    return Strokes(shutting=moves["shut"], opening=moves.get("open"), sigma_s=_sigma_s(path, lines))


def _sigma_s(path: Path, lines: list[str]) -> float:
    """Return what a remark states of how well the times are known; 0 where none does."""
    for number, line in enumerate(lines, 1):
        if found := _SIGMA.fullmatch(line):
            return 1e-3 * _time("sigma_ms", found[1], f"{path}:{number}")
    return 0.0


def _rows(path: Path, lines: list[str]) -> dict[str, list[_Times]]:
    names: tuple[str, ...] = ()
    found: dict[str, list[_Times]] = {}
    for number, line in enumerate(lines, 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        where = f"{path}:{number}"
        if not names:
            names = _header(line, where)
            continue
        direction, times = _row(line, names, where)
        found.setdefault(direction, []).append(times)
        if sum(map(len, found.values())) > MOST_ROWS:
            raise SourceError("too many strokes", where=where, allowed=f"{MOST_ROWS} rows")
    if not names:
        raise SourceError("a file of strokes without a header", where=str(path), allowed=_HEADERS)
    return found


def _header(line: str, where: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in line.split(","))
    if names in (_PLAIN, _FULL):
        return names
    remedy = "begin the file with that line"
    if ";" in line or "\t" in line:
        remedy = "separate the columns by commas, and write decimals with a point"
    raise SourceError(
        f"{_shown(line)} is no header of a file of strokes",
        where=where,
        allowed=_HEADERS,
        remedy=remedy,
    )


def _row(line: str, names: tuple[str, ...], where: str) -> tuple[str, _Times]:
    fields = [field.strip() for field in line.split(",")]
    if len(fields) != len(names):
        raise SourceError(
            f"{len(fields)} columns in {_shown(line)}",
            where=where,
            allowed=f"{len(names)} columns, as in the header: {','.join(names)}",
            remedy="write decimals with a point, not a comma" if len(fields) > len(names) else "",
        )
    given = dict(zip(names, fields, strict=True))
    direction = given["direction"]
    if direction not in ("shut", "open"):
        raise SourceError(f"direction is {_shown(direction)}", where=where, allowed="shut or open")
    first = given.get("first_motion_ms", "")
    times = (
        _time("first_motion_ms", first, where) if first else float("nan"),
        _time("begins_ms", given["begins_ms"], where),
        _time("done_ms", given["done_ms"], where),
    )
    _require_order(times, where)
    return direction, times


def _time(name: str, field: str, where: str) -> float:
    value = float(field) if _NUMBER.fullmatch(field) else float("inf")
    if value > LONGEST_MS:
        raise SourceError(
            f"{name} is {_shown(field)}",
            where=where,
            allowed=f"ms after the command, 0 to {LONGEST_MS:g}, such as 12.4",
            remedy="correct the row, or remove it",
        )
    return value


def _require_order(times: _Times, where: str) -> None:
    first, begins, done = times
    for name, early, late in (("first_motion_ms", first, begins), ("begins_ms", begins, done)):
        if early > late:
            after = "begins_ms" if name == "first_motion_ms" else "done_ms"
            raise SourceError(
                f"{name} {early:g} comes after {after} {late:g}",
                where=where,
                allowed="first motion, then the beginning, then the end",
                remedy="correct the row, or remove it",
            )


def _moves(rows: list[_Times]) -> Moves:
    times = np.array(rows, dtype=np.float64).T * 1e-3
    return Moves(first_motion_s=times[0], begins_s=times[1], done_s=times[2])


def _shown(text: str) -> str:
    plain = text.strip()
    return repr(plain if len(plain) <= _SHOWN else plain[:_SHOWN] + "...")
