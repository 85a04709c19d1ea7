"""Reads the log of the commands to a gate: one row for each.

A CSV file in UTF-8 with the header ``time_s,command``; commands are ``shut`` and ``open`` in turn,
with rising times in seconds. The first one tells how the gate stood before: open where it is told
to shut. Lines that begin with ``#`` are remarks. One of them must say on which clock the times
are: ``# clock capture``, seconds from the recording's first frame, or ``# clock board``, seconds
on the clock of the beam's board. ``# sigma_ms 0.5`` states how far all of them may be off.
"""

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from viscount.errors import SourceError

Clock = Literal["capture", "board"]

HEADER: Final = "time_s,command"
SIGMA_S: Final = 5e-4
"""Taken where the log states none: a host's log is about so late."""
MOST_ROWS: Final = 1_000_000
_TIME: Final = re.compile(r"-?[0-9]{1,10}(?:\.[0-9]{0,9})?")
_CLOCK: Final = re.compile(r"#\s*clock\s+(\S+)\s*", re.IGNORECASE)
_SIGMA: Final = re.compile(r"#\s*sigma_ms\s+(\S+)\s*", re.IGNORECASE)
_SHOWN: Final = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class GateLog:
    """The commands of one log.

    Attributes
    ----------
    path : the file.
    clock : which one its times are on.
    sigma_s : standard uncertainty of all times together.
    first_shuts : whether the first command is to shut; they take turns from there.
    at_s : the times, rising.
    """

    path: Path
    clock: Clock
    sigma_s: float
    first_shuts: bool
    at_s: tuple[float, ...]


def read_gate_log(path: str | Path) -> GateLog:
    """Return the commands of a file.

    Raises
    ------
    SourceError : for a file that cannot be read, and the first line that is none of such a log.
    """
    path = Path(path)
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except OSError as error:
        raise SourceError(
            f"the gate's log cannot be read ({error.strerror or error})",
            where=str(path),
            remedy="check the path",
        ) from None
    except UnicodeDecodeError:
        raise SourceError(
            "no text in UTF-8", where=str(path), remedy="save the file as CSV in UTF-8"
        ) from None
    return _Reading(path).of(lines)


class _Reading:
    def __init__(self, path: Path) -> None:
        self._path, self._where = path, str(path)
        self._clock: Clock | None = None
        self._sigma_s = SIGMA_S
        self._rows: list[tuple[float, str]] = []

    def of(self, lines: list[str]) -> GateLog:
        headed = False
        for number, line in enumerate(lines, 1):
            self._where = f"{self._path}:{number}"
            if line.lstrip().startswith("#"):
                self._remark(line.strip())
            elif line.strip() and not headed:
                self._require_header(line)
                headed = True
            elif line.strip():
                self._rows.append(self._row(line))
        self._where = str(self._path)
        if not headed:
            raise self._refused("a gate's log without a header", HEADER)
        if not self._rows:
            raise self._refused("a gate's log without a command", "rows such as 1.234567,shut")
        if self._clock is None:
            raise self._refused(
                "a gate's log that does not say on which clock its times are",
                "the line `# clock capture` (seconds from the first frame) or `# clock board`",
                "put that line at the top of the file",
            )
        return GateLog(
            path=self._path,
            clock=self._clock,
            sigma_s=self._sigma_s,
            first_shuts=self._rows[0][1] == "shut",
            at_s=tuple(t for t, _ in self._rows),
        )

    def _remark(self, line: str) -> None:
        if found := _CLOCK.fullmatch(line):
            name = found[1].lower()
            if name == "capture":
                self._clock = "capture"
            elif name == "board":
                self._clock = "board"
            else:
                raise self._refused(f"a clock named {_shown(found[1])}", "capture or board")
        elif found := _SIGMA.fullmatch(line):
            value = float(found[1]) if _TIME.fullmatch(found[1]) else math.nan
            if not 0 <= value <= 1e4:
                raise self._refused(f"sigma_ms is {_shown(found[1])}", "0 to 10000, such as 0.5")
            self._sigma_s = 1e-3 * value

    def _require_header(self, line: str) -> None:
        if ",".join(name.strip() for name in line.split(",")) != HEADER:
            remedy = "begin the file with that line"
            if ";" in line or "\t" in line:
                remedy = "separate the columns by commas, and write decimals with a point"
            raise self._refused(f"{_shown(line)} is no header of a gate's log", HEADER, remedy)

    def _row(self, line: str) -> tuple[float, str]:
        fields = [field.strip() for field in line.split(",")]
        if len(fields) != 2:
            raise self._refused(
                f"{len(fields)} columns in {_shown(line)}",
                f"2 columns: {HEADER}",
                "write decimals with a point, not a comma" if len(fields) > 2 else "",
            )
        time, command = fields
        if not _TIME.fullmatch(time):
            raise self._refused(f"time_s is {_shown(time)}", "seconds, such as 12.345678")
        if command not in ("shut", "open"):
            raise self._refused(f"command is {_shown(command)}", "shut or open")
        if len(self._rows) >= MOST_ROWS:
            raise self._refused("too many commands", f"{MOST_ROWS} rows")
        self._require_order(float(time), command)
        return float(time), command

    def _require_order(self, time_s: float, command: str) -> None:
        if not self._rows:
            return
        before_s, before = self._rows[-1]
        if command == before:
            raise self._refused(
                f"two commands to {command} one after the other",
                "shut and open in turn",
                "find the command that is missing, or remove the one too many",
            )
        if time_s <= before_s:
            raise self._refused(
                f"time_s {time_s:g} does not come after {before_s:g}",
                "times that rise",
                "give each run of the board its own log",
            )

    def _refused(self, found: str, allowed: str, remedy: str = "") -> SourceError:
        return SourceError(found, where=self._where, allowed=allowed, remedy=remedy)


def _shown(text: str) -> str:
    plain = text.strip()
    return repr(plain if len(plain) <= _SHOWN else plain[:_SHOWN] + "...")
