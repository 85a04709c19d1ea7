"""One line of the serial protocol: its mark, its number, its fields and its checksum.

A line is ``^NUMBER BOOT KIND FIELD... CHECKSUM`` and a line feed; see PROTOCOL.md beside this file.
"""

import re
from binascii import crc_hqx
from dataclasses import dataclass
from enum import StrEnum

from viscount.errors import UsageError

START = b"^"
END = b"\n"
LONGEST = 80
"""Bytes of the longest line, from its mark to its line feed, both included."""
LONGEST_BODY = LONGEST - len(START) - len(END)
NUMBERS = 2**16
"""Line numbers and boots are below this; after the last number comes 0."""

_WORD = r"[a-z0-9][a-z0-9.-]*"
_BODY = re.compile(rf"(0|[1-9][0-9]{{0,4}}) (0|[1-9][0-9]{{0,4}}) ([a-z]+)((?: {_WORD})*)")
_FOREIGN = re.compile(rb"[^0-9a-zA-F. -]")
_CHECKSUM = re.compile(rb"[0-9A-F]{4}")


class Flaw(StrEnum):
    """Why a line was not taken."""

    NO_START = "no start"
    NO_END = "no end"
    TOO_LONG = "too long"
    FOREIGN_BYTE = "a byte that no line has"
    CHECKSUM = "checksum"
    FORM = "form"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line, taken apart.

    Attributes
    ----------
    number : the sender's number of this line, 0 to 65535.
    boot : the run of the board that it comes from or is meant for, 0 to 65535; 0 where the host
        does not know it yet.
    kind : what it says; lower-case letters.
    fields : the rest, as they stand in the line.
    """

    number: int
    boot: int
    kind: str
    fields: tuple[str, ...] = ()


def checksum(body: bytes) -> int:
    """Return the CRC-16/IBM-3740 of these bytes: 0x29B1 for ``123456789``.

    Polynomial 0x1021, start value 0xFFFF, nothing reflected, nothing added at the end.
    """
    return crc_hqx(body, 0xFFFF)


def write_line(line: Line) -> bytes:
    """Return the bytes of a line, mark and line feed included.

    Raises
    ------
    UsageError : the line would break the rules of the protocol.
    """
    body = " ".join((str(line.number), str(line.boot), line.kind, *line.fields)).encode("utf-8")
    written = b"%s%s %04X%s" % (START, body, checksum(body), END)
    if len(written) > LONGEST:
        raise UsageError(f"a line of {len(written)} bytes", allowed=f"up to {LONGEST} bytes")
    if read_body(written[1:-1]) != line:
        raise UsageError(
            f"a line that reads {body.decode('utf-8')!r}",
            allowed=f"number and boot from 0 to {NUMBERS - 1}; words of lower-case letters, "
            "digits, full stops and hyphens",
        )
    return written


def read_body(raw: bytes) -> Line | Flaw:
    """Take apart what stands between a line's mark and its line feed, or say what is wrong."""
    if len(raw) > LONGEST_BODY:
        return Flaw.TOO_LONG
    if _FOREIGN.search(raw):
        return Flaw.FOREIGN_BYTE
    body, _, told = raw.rpartition(b" ")
    if not _CHECKSUM.fullmatch(told) or int(told, 16) != checksum(body):
        return Flaw.CHECKSUM
    parts = _BODY.fullmatch(body.decode("ascii"))
    if parts is None:
        return Flaw.FORM
    number, boot = int(parts[1]), int(parts[2])
    if number >= NUMBERS or boot >= NUMBERS:
        return Flaw.FORM
    return Line(number=number, boot=boot, kind=parts[3], fields=tuple(parts[4].split()))


def number_after(number: int) -> int:
    """Return the number of the line that follows."""
    return (number + 1) % NUMBERS


def ahead(number: int, of: int) -> int:
    """Return how many lines a number is ahead of another, 0 to 65535, across the wrap."""
    return (number - of) % NUMBERS
