"""What must be true of the bytes that a board sends, whatever it is asked."""

from viscount.devices.protocol.edge_book import BeganAnewError, EdgeBook
from viscount.devices.protocol.messages import (
    FROM_BOARD,
    VERSION,
    EdgeSeen,
    Hello,
    Limits,
    Total,
)
from viscount.devices.protocol.numbered import Gap, Heard, NumberedLines, Turn
from viscount.testing.answers import require


def check_recorded_lines(data: bytes) -> None:
    """Assert that bytes recorded from a board's power-on on keep the rules of the protocol.

    Nothing may be lost between the board and the record: every line must be good, numbered and
    understood, each run must begin with a hello and the limits, and each total must be the sum of
    the edges ahead of it and those that the board says it lost.

    Raises
    ------
    AssertionError
        Naming the line and what is wrong with it.
    """
    lines = NumberedLines()
    heard = lines.feed(data)
    counts = lines.counts
    spoilt = counts.before_first + counts.between + counts.damaged + lines.spoilt
    require(not lines.stray_bytes, f"{lines.stray_bytes} bytes stand between lines")
    require(not lines.held_bytes, "the last line has no end")
    require(not spoilt, f"{spoilt} lines are damaged")
    run = _Run()
    for one in heard:
        require(isinstance(one, Heard), f"missing lines: {one}")
        if isinstance(one, Gap):
            continue
        try:
            run.take(one)
        except (AssertionError, BeganAnewError) as error:
            what = "counts fall within a run" if isinstance(error, BeganAnewError) else error
            raise AssertionError(
                f"line {one.line.number} of boot {one.line.boot}: {what}"
            ) from error


class _Run:
    """One run of a board, from reset to reset."""

    def __init__(self) -> None:
        self._after_hello = False
        self._book = EdgeBook()

    def take(self, heard: Heard) -> None:
        """Look at the next line."""
        message = heard.message
        require(heard.turn is not Turn.REPEATED, "came twice")
        require(message is not None, f"kind {heard.line.kind!r} with {heard.line.fields}")
        require(isinstance(message, FROM_BOARD), f"only a host sends {heard.line.kind!r}")
        begins = heard.turn in (Turn.FIRST, Turn.NEW_BOOT)
        if begins:
            require(isinstance(message, Hello), f"a run begins with {heard.line.kind!r}, no hello")
            require(heard.line.number == 0, "the first line of a run must have number 0")
            require(heard.line.boot > 0, "boot 0 is no board's")
        require(
            isinstance(message, Limits) or not self._after_hello,
            f"{heard.line.kind!r} follows a hello; limits must",
        )
        self._after_hello = isinstance(message, Hello)
        if isinstance(message, Hello):
            self._hello(message, begins)
        elif isinstance(message, EdgeSeen | Total):
            self._count(message)

    def _hello(self, hello: Hello, begins: bool) -> None:
        require(hello.version == VERSION, f"version {hello.version}, not {VERSION}")
        if begins:
            require(hello.edges == 0, f"{hello.edges} edges at the beginning of a run")
            self._book = EdgeBook()
            self._book.begin(hello)
        else:
            self._doubt(hello)
            self._book.total(hello)

    def _count(self, told: EdgeSeen | Total) -> None:
        self._doubt(told)
        if isinstance(told, EdgeSeen):
            self._book.edge(told)
            return
        self._book.total(told)
        require(
            self._book.edges == told.edges and self._book.lost == told.lost,
            f"a total of {told.edges} edges, {told.lost} of them lost, after "
            f"{self._book.came} edges",
        )

    def _doubt(self, told: EdgeSeen | Total | Hello) -> None:
        text = self._book.contradiction(told)
        require(not text, f"{told.KIND!r} says {text}")
