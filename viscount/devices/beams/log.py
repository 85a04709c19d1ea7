"""Reads the log of a beam's board: one row for each change of the beam.

A CSV file in UTF-8. Its header is ``time_s,blocked`` and, where the board sends them, ``seq`` and
``boot``. Lines that begin with ``#`` are remarks. The first row is the state when logging began.
Times are seconds on the board's own clock, with 6 decimals or more; they fall only where ``boot``
changes, or by 2**32 us where a clock of 32 bits wraps. A last remark ``# end TIME`` says that the
log is whole up to that time.
"""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

from viscount.codes import Code
from viscount.devices.beams.rows import (
    LATEST_NS,
    MICROSECOND_DECIMALS,
    columns,
    nanoseconds,
    refusal,
    row_pattern,
    shown,
)
from viscount.errors import SourceError
from viscount.values import Edge, Level, Notice

_END = re.compile(r"#\s*end\s+([0-9]{1,10})(?:\.([0-9]*))?\s*", re.IGNORECASE)
_COUNTABLE_DECIMALS = 4
"""With fewer, several edges of one part may share a time."""


class BeamLog:
    """One log file. Rows are read as they are asked for, in memory that does not grow.

    Attributes
    ----------
    path : the file.
    rows : how many rows were read so far.
    decimals : the most decimals that a time was written with so far.
    end_device_t_ns : the time up to which the log is whole, on the board's clock; None before
        all rows are read, and where the log does not say.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self._start()

    def _start(self) -> None:
        self.rows = 0
        self.decimals = 0
        self.end_device_t_ns: int | None = None
        self._names: tuple[str, ...] = ()
        self._previous: Edge | None = None
        self._cut = ""
        self._line = 0

    @property
    def tick_ns(self) -> int:
        """The step in which times are written so far."""
        return int(10 ** max(0, 9 - self.decimals))

    def edges(self) -> Iterator[Edge]:
        """Yield the first state and then every edge, in the order of the file.

        Times are exact: decimals are read as they stand, never through a float. A last line that
        breaks off in the middle is left out; `notices` says so.

        Raises
        ------
        SourceError
            For a file that cannot be read, and the first line that is none of a beam log.
        """
        self._start()
        try:
            # Bytes that are no UTF-8 are harmless in a remark, and are refused with their line
            # elsewhere.
            with self.path.open(encoding="utf-8-sig", errors="replace") as file:
                yield from self._edges(file)
        except OSError as error:
            raise SourceError(
                f"the beam log cannot be read ({error.strerror or error})",
                where=str(self.path),
                remedy="check the path",
            ) from None

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What there is to say of the file, once all rows are read."""
        made = []
        if self.rows and self.decimals < MICROSECOND_DECIMALS:
            level = Level.INFO if self.decimals >= _COUNTABLE_DECIMALS else Level.DOUBT
            text = f"times have {self.decimals} decimals of a second, a step of {_step(self)}"
            made.append((level, Code.BEAM_TIMES_COARSE, text))
        if self._cut:
            text = f"line {self._line} breaks off and is left out: {self._cut}"
            made.append((Level.INFO, Code.BEAM_LINE_CUT, text))
        where = str(self.path)
        return tuple(Notice(level=le, code=co, text=te, where=where) for le, co, te in made)

    def _edges(self, file: TextIO) -> Iterator[Edge]:
        pattern = self._header(file)
        seq_at, boot_at = (
            self._names.index(name) + 2 if name in self._names else None for name in ("seq", "boot")
        )
        match = pattern.fullmatch
        decimals, rows, line, whole = 0, 0, "", True
        below = self._line + 1
        for self._line, line in enumerate(file, below):
            found = match(line)
            if found is None or not whole or line[-1] != "\n":
                found = self._uncommon(line, found)
                whole = self.end_device_t_ns is None
                if found is None:
                    continue
            t_ns = nanoseconds(found[1], found[2])
            if found[2] and len(found[2]) > decimals:
                self.decimals = decimals = len(found[2])
            edge = self._previous = Edge(
                device_t_ns=t_ns,
                blocked=found[3] == "1",
                seq=int(found[seq_at]) if seq_at else None,
                boot=int(found[boot_at]) if boot_at else None,
            )
            if t_ns > LATEST_NS:
                raise self._refused(f"{found[1]} s", allowed="less than 9.2e9 s")
            self.rows = rows = rows + 1
            yield edge
        if not self.rows:
            raise self._refused(
                "a beam log without a row",
                allowed="first the state when logging began, such as 0.000000,0",
                remedy="have the logger write that row when it starts",
            )

    def _header(self, file: TextIO) -> re.Pattern[str]:
        """Read up to the header; return the pattern of the rows below it."""
        for self._line, line in enumerate(file, 1):
            if line.strip() and not line.lstrip().startswith("#"):
                self._names = columns(line, self._where())
                return row_pattern(self._names)
        raise self._refused(
            "a beam log without a header",
            allowed="time_s,blocked and after these, where the board sends them, seq and boot",
        )

    def _uncommon(self, line: str, found: re.Match[str] | None) -> re.Match[str] | None:
        """Look at a line that is no complete row, or comes after the end; return it if a row."""
        broken_off = line[-1] != "\n"
        text = line.strip()
        if not text:
            return None
        if text[0] == "#":
            end = _END.fullmatch(text)
            if end and broken_off and len(end[2] or "") < max(self.decimals, MICROSECOND_DECIMALS):
                self._cut = shown(text)
            elif end:
                self.end_device_t_ns = nanoseconds(end[1], end[2])
            return None
        if self.end_device_t_ns is not None:
            raise self._refused(
                f"a row after the log's end: {shown(line)}",
                allowed="`# end TIME` as the last line but remarks",
                remedy="give each log by itself",
            )
        if broken_off and not (found and self._surely_whole(found)):
            self._cut = shown(text)
            return None
        if found is None:
            raise refusal(line, self._names, self._where())
        return found

    def _surely_whole(self, found: re.Match[str]) -> bool:
        """Whether a row without an end of line cannot have lost a digit.

        The last column then says what it must: a level, the next number, the same boot.
        """
        last = self._names[-1]
        if last == "blocked" or self._previous is None:
            return last == "blocked"
        value = int(found[found.re.groups])
        if last == "boot":
            return value == self._previous.boot
        return self._previous.seq is not None and value == self._previous.seq + 1

    def _where(self) -> str:
        return f"{self.path}:{self._line}"

    def _refused(self, found: str, *, allowed: str, remedy: str = "") -> SourceError:
        return SourceError(found, where=self._where(), allowed=allowed, remedy=remedy)


def _step(log: BeamLog) -> str:
    return f"{log.tick_ns / 1e3:g} us" if log.decimals > 3 else f"{log.tick_ns / 1e6:g} ms"
