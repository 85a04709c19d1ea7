"""One row of a beam log: text to an edge, and what is wrong with a row that is none."""

import re
from collections.abc import Sequence

from viscount.errors import SourceError

REQUIRED = ("time_s", "blocked")
OPTIONAL = ("seq", "boot")
MICROSECOND_DECIMALS = 6
LATEST_NS = 2**63 - 1
"""Times are kept in arrays of 64-bit integers."""

_PATTERNS = {
    "time_s": r"([0-9]{1,10})(?:\.([0-9]*))?",
    "blocked": "([01])",
    "seq": "([0-9]{1,18})",
    "boot": "([0-9]{1,18})",
}
_ALLOWED = {
    "time_s": "seconds with a decimal point, such as 12.345678",
    "blocked": "0 (light) or 1 (blocked)",
    "seq": "a whole number, 0 or more",
    "boot": "a whole number, 0 or more",
}
_SHOWN = 60


def columns(line: str, where: str) -> tuple[str, ...]:
    """Return the columns that a header names.

    Raises
    ------
    SourceError
        Where it is no header of a beam log.
    """
    names = tuple(name.strip() for name in line.split(","))
    known = names[:2] == REQUIRED and set(names[2:]) <= set(OPTIONAL)
    if known and len(set(names)) == len(names):
        return names
    remedy = "begin the file with that line"
    if "\0" in line:
        remedy = "save the file as UTF-8 text"
    elif ";" in line or "\t" in line:
        remedy = "separate the columns by commas, and write decimals with a point"
    raise SourceError(
        f"{shown(line)} is no header of a beam log",
        where=where,
        allowed="time_s,blocked and after these, where the board sends them, seq and boot",
        remedy=remedy,
    )


def row_pattern(names: Sequence[str]) -> re.Pattern[str]:
    """Return what matches a whole row; its groups are whole seconds, decimals, then the rest."""
    return re.compile(r"\s*" + r"\s*,\s*".join(_PATTERNS[name] for name in names) + r"\s*")


def nanoseconds(whole: str, decimals: str | None) -> int:
    """Return a decimal number of seconds in ns: exact to 9 decimals, beyond that cut off."""
    if not decimals:
        return int(whole) * 1_000_000_000
    if len(decimals) == MICROSECOND_DECIMALS:
        return int(whole + decimals) * 1000
    return int(whole + decimals[:9].ljust(9, "0"))


def refusal(line: str, names: Sequence[str], where: str) -> SourceError:
    """Return the error that says what is wrong with a row that does not match."""
    fields = line.split(",")
    if len(fields) != len(names):
        commas = len(fields) > len(names)
        return SourceError(
            f"{len(fields)} columns in {shown(line)}",
            where=where,
            allowed=f"{len(names)} columns, as in the header: {','.join(names)}",
            remedy="write decimals with a point, not a comma" if commas else "",
        )
    if "time_s" in fields[0]:
        return SourceError(
            "a second header",
            where=where,
            allowed="one log in a file",
            remedy="give each log by itself",
        )
    for name, field in zip(names, fields, strict=True):
        if not re.fullmatch(rf"\s*{_PATTERNS[name]}\s*", field):
            return SourceError(
                f"{name} is {shown(field)}",
                where=where,
                allowed=_ALLOWED[name],
                remedy="correct the row, or remove it: numbered edges then show as lost",
            )
    return SourceError(f"{shown(line)} cannot be read", where=where, allowed=",".join(names))


def shown(text: str) -> str:
    """Return a text as an error shows it: on one line, and not too long."""
    plain = text.strip()
    return repr(plain if len(plain) <= _SHOWN else plain[:_SHOWN] + "...")
