"""The lines of a board in the order of their numbers: which came, and which did not."""

from dataclasses import dataclass
from enum import StrEnum

from viscount.devices.protocol.line import NUMBERS, Flaw, Line, ahead, number_after
from viscount.devices.protocol.messages import Hello, Message, from_line
from viscount.devices.protocol.stream import LineStream


class Turn(StrEnum):
    """How a line stands to the one before it."""

    FIRST = "first"
    NEXT = "next"
    NEW_BOOT = "new boot"
    REPEATED = "repeated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """A good line. `message` is None where its kind is unknown or its fields do not fit."""

    line: Line
    message: Message | None
    turn: Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Lines that did not come, or came damaged, before the next good one.

    Attributes
    ----------
    first, last : their numbers; `last` is below `first` where the numbers wrap.
    damaged : how many of them left a damaged line behind.
    missing : how many left nothing.
    """

    first: int
    last: int
    damaged: int
    missing: int

    def __str__(self) -> str:
        lost = self.damaged + self.missing
        listed = f"{self.first} to {self.last}"
        if lost <= 6:
            listed = ", ".join(str((self.first + i) % NUMBERS) for i in range(lost))
        return f"{self.damaged} damaged, {self.missing} missing ({listed})"


@dataclass(slots=True, kw_only=True)
class LineCounts:
    """How the lines fared so far.

    Attributes
    ----------
    good : taken.
    damaged, missing : not taken, by their numbers; see `Gap`.
    before_first : spoilt pieces ahead of the first good line, where a reader joined midway.
    between : spoilt pieces where no number is missing: noise, not lines.
    """

    good: int = 0
    damaged: int = 0
    missing: int = 0
    before_first: int = 0
    between: int = 0


class NumberedLines:
    """Reads what a board sends.

    A board never repeats nor reorders lines. Numbers that fall mean that it began anew, even where
    it calls itself by the same boot.
    """

    def __init__(self) -> None:
        self._stream = LineStream()
        self._last: Line | None = None
        self._spoilt = 0
        self.counts = LineCounts()

    @property
    def stray_bytes(self) -> int:
        """Bytes that stood between lines."""
        return self._stream.stray_bytes

    @property
    def held_bytes(self) -> int:
        """Bytes kept for the line under way."""
        return self._stream.held_bytes

    @property
    def spoilt(self) -> int:
        """Spoilt pieces since the last good line; the next one tells what they were."""
        return self._spoilt

    def feed(self, data: bytes) -> list[Heard | Gap]:
        """Take the next bytes; return the good lines in their order, and the gaps between them."""
        found: list[Heard | Gap] = []
        for one in self._stream.feed(data):
            if isinstance(one, Flaw):
                self._spoilt += 1
            else:
                found += self._take(one)
        return found

    def _take(self, line: Line) -> list[Heard | Gap]:
        message = from_line(line)
        turn = self._turn(line, message)
        found: list[Heard | Gap] = []
        if turn is Turn.FIRST:
            self.counts.before_first += self._spoilt
        else:
            found += self._gap(line, turn)
        self._spoilt = 0
        self._last = line
        self.counts.good += 1
        return [*found, Heard(line=line, message=message, turn=turn)]

    def _turn(self, line: Line, message: Message | None) -> Turn:
        last = self._last
        if last is None:
            return Turn.FIRST
        if line == last:
            return Turn.REPEATED
        step = ahead(line.number, number_after(last.number))
        began = isinstance(message, Hello) and line.number == 0 and step != 0
        if line.boot != last.boot or step >= NUMBERS // 2 or began:
            return Turn.NEW_BOOT
        return Turn.NEXT

    def _gap(self, line: Line, turn: Turn) -> list[Gap]:
        """Return the gap ahead of a line, if there is one; spoilt pieces without one are noise."""
        due = 0
        if turn is not Turn.NEW_BOOT and self._last is not None:
            due = number_after(self._last.number)
        lost = 0 if turn is Turn.REPEATED else ahead(line.number, due)
        damaged = min(self._spoilt, lost)
        self.counts.damaged += damaged
        self.counts.missing += lost - damaged
        self.counts.between += self._spoilt - damaged
        if not lost:
            return []
        last = (line.number - 1) % NUMBERS
        return [Gap(first=due, last=last, damaged=damaged, missing=lost - damaged)]
