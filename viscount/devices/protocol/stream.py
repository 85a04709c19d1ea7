"""Bytes in, lines out: whatever pieces they come in, and whatever happened to them on the way.

A line runs from its mark to the next line feed. A mark inside of it begins another line, so one
damaged byte costs one line at most. Nothing is kept but the line that is under way.
"""

import re

from viscount.devices.protocol.line import END, LONGEST_BODY, START, Flaw, Line, read_body

_MARKS = re.compile(rb"[%s%s]" % (re.escape(START), re.escape(END)))


class LineStream:
    """Finds the lines in a stream of bytes.

    `stray_bytes` counts what stood between lines.
    """

    def __init__(self) -> None:
        self._begun = False
        self._held = bytearray()
        self.stray_bytes = 0

    @property
    def held_bytes(self) -> int:
        """How many bytes are kept for the line under way; bounded, whatever comes in."""
        return len(self._held)

    def feed(self, data: bytes) -> list[Line | Flaw]:
        """Take the next bytes; return the lines that they complete, and a flaw for each spoilt one.

        What comes of a stream is the same however it is cut into pieces.
        """
        found: list[Line | Flaw] = []
        place = 0
        for mark in _MARKS.finditer(data):
            self._hold(data[place : mark.start()])
            place = mark.end()
            if mark[0] == START:
                self._start(found)
            else:
                self._end(found)
        self._hold(data[place:])
        return found

    def _hold(self, piece: bytes) -> None:
        """Keep a piece of a line, one byte more than fits at most: enough to know it too long."""
        if self._begun:
            self._held += piece[: LONGEST_BODY + 1 - len(self._held)]
        elif piece:
            self.stray_bytes += len(piece)
            self._held[:] = piece[:1]

    def _start(self, found: list[Line | Flaw]) -> None:
        if self._begun:
            found.append(Flaw.NO_END)
        self._begun = True
        self._held.clear()

    def _end(self, found: list[Line | Flaw]) -> None:
        if self._begun:
            found.append(read_body(bytes(self._held)))
        elif self._held:
            found.append(Flaw.NO_START)
        self._begun = False
        self._held.clear()
