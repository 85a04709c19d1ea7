"""The host's end of the line to a board, without the line: bytes in, bytes out, times handed in.

Whoever owns the port hands every piece that it reads to `hear`, calls `turn` after each `ask` and
whenever `due_ns` has come, and writes what `turn` gives. When it no longer does, renewals end, and
the board switches its coil off.
"""

from viscount.codes import Code
from viscount.devices.protocol.edge_book import BeganAnewError, EdgeBook, EdgesLost
from viscount.devices.protocol.line import Line
from viscount.devices.protocol.messages import (
    RENEW_MS,
    VERSION,
    BoardMessage,
    EdgeSeen,
    FaultTold,
    Greet,
    Hello,
    HostMessage,
    Limits,
    No,
    Ok,
    Renew,
    Total,
    known_kind,
)
from viscount.devices.protocol.numbered import Heard, LineCounts, NumberedLines, Turn
from viscount.devices.protocol.outgoing import Outgoing
from viscount.devices.protocol.report import Report
from viscount.devices.protocol.words import Refusal
from viscount.errors import UsageError
from viscount.values import Level

_MS = 1_000_000
_GREET_AGAIN_MS = 500
_GREET_SOONEST_MS = 100


class HostLink:
    """Talks to one board, from the opening of its port on.

    Parameters
    ----------
    now_ns : when the port was opened; all times are on one clock of the host, never falling.
    silent_ms : a board that says nothing for longer is called silent. A board sends its totals
        five times a second.
    answer_ms : a line that waits longer for its answer is called unanswered.
    where : what notices call the board, a port for instance.

    Attributes
    ----------
    hello, limits : what the board last said of itself, or None.
    book : the account of its edges.
    """

    def __init__(
        self, now_ns: int, *, silent_ms: int = 1000, answer_ms: int = 500, where: str = "board"
    ) -> None:
        self.hello: Hello | None = None
        self.limits: Limits | None = None
        self.book = EdgeBook()
        self._where = where
        self._silent_ns = silent_ms * _MS
        self._answer_ns = answer_ms * _MS
        self._lines = NumberedLines()
        self._outgoing = Outgoing()
        self._linked = False
        self._foreign = False
        self._greeting: int | None = None
        self._greeting_done = False
        self._greet_at_ns = now_ns
        self._greeted_ns = now_ns
        self._holding = False
        self._renew_at_ns = now_ns
        self._heard_ns = now_ns
        self._silent = False

    @property
    def linked(self) -> bool:
        """Whether this run of the board has answered the greeting, so that it can be asked."""
        return self._linked

    @property
    def silent(self) -> bool:
        """Whether the board has said nothing for too long."""
        return self._silent

    @property
    def holding(self) -> bool:
        """Whether the lease is being renewed."""
        return self._holding

    @property
    def counts(self) -> LineCounts:
        """How the board's lines fared so far."""
        return self._lines.counts

    @property
    def due_ns(self) -> int | None:
        """When `turn` wants to be called next, at the latest; None where nothing is to come."""
        due = []
        if not self._silent:
            due.append(self._heard_ns + self._silent_ns + 1)
        if self._holding:
            due.append(self._renew_at_ns)
        if not self._linked and not self._foreign:
            due.append(self._greet_at_ns)
        if self._outgoing.oldest_ns is not None:
            due.append(self._outgoing.oldest_ns + self._answer_ns)
        return min(due, default=None)

    def hold(self, now_ns: int) -> None:
        """Begin to renew the lease; needed before the board takes a `Ready`.

        Raises
        ------
        UsageError : the board has not answered the greeting.
        """
        self._require_link("lease")
        self._holding = True
        self._renew(now_ns)

    def release(self) -> None:
        """Let the lease run out. An open gate is then a fault: ask it to shut first."""
        self._holding = False

    def ask(self, now_ns: int, message: HostMessage) -> int:
        """Put a line into the next turn; return its number, which its answer will bear.

        Raises
        ------
        UsageError : the board has not answered the greeting, or a value is out of its range.
        """
        self._require_link(message.KIND)
        if isinstance(message, Greet):
            raise UsageError("a greeting; the link greets by itself", where=self._where)
        return self._outgoing.ask(now_ns, message)

    def turn(self, now_ns: int) -> Report:
        """Do what is due: greet, renew, and look who is silent. Return what is to be written."""
        report = Report(where=self._where)
        if not self._linked and not self._foreign and now_ns >= self._greet_at_ns:
            self._greet(now_ns)
        if self._holding and now_ns >= self._renew_at_ns:
            self._renew(now_ns)
        self._outgoing.give_up(now_ns, sent_until_ns=now_ns - self._answer_ns)
        report.given_up(self._outgoing.take_given_up())
        if not self._silent and now_ns - self._heard_ns > self._silent_ns:
            self._silent = True
            waited_ms = (now_ns - self._heard_ns) // _MS
            report.tell(Level.DOUBT, Code.BOARD_SILENT, f"no good line for {waited_ms} ms")
        report.to_send = self._outgoing.take_bytes()
        return report

    def hear(self, now_ns: int, data: bytes) -> Report:
        """Take what came from the board, in pieces of any size; return what it says."""
        report = Report(where=self._where)
        for one in self._lines.feed(data):
            if isinstance(one, Heard):
                self._heard_ns, self._silent = now_ns, False
                self._take(now_ns, one, report)
            elif self.book.open:
                report.tell(Level.INFO, Code.BOARD_LINES_LOST, f"{one} of the board's lines")
        report.given_up(self._outgoing.take_given_up())
        return report

    def _take(self, now_ns: int, heard: Heard, report: Report) -> None:
        if heard.turn is Turn.NEW_BOOT:
            self._restarted(now_ns, report)
        message = heard.message
        if heard.turn is Turn.REPEATED:
            report.contradiction(f"line {heard.line.number} came twice")
        elif message is None:
            self._not_understood(heard.line, report)
        elif not isinstance(message, BoardMessage):
            report.contradiction(f"a line {message.KIND!r} that only a host sends: an echo")
        else:
            self._understand(now_ns, heard, message, report)

    def _understand(self, now_ns: int, heard: Heard, message: BoardMessage, report: Report) -> None:
        try:
            self._do(now_ns, heard, message, report)
        except BeganAnewError:
            self._restarted(now_ns, report)
            try:
                self._do(now_ns, heard, message, report)
            except BeganAnewError:
                text = f"a line {message.KIND!r} with fields {heard.line.fields} after a restart"
                report.contradiction(text)

    def _do(self, now_ns: int, heard: Heard, message: BoardMessage, report: Report) -> None:
        match message:
            case EdgeSeen():
                if self.book.open:
                    self._edge(message, report)
                return
            case Ok() | No():
                self._answered(now_ns, message, report)
                return
            case Hello():
                self._met(now_ns, heard, message, report)
            case Total():
                self._total(message, report)
            case Limits():
                self.limits = message
            case FaultTold():
                text = f"the gate's board met a fault: {message.reason}"
                report.tell(Level.DOUBT, Code.BOARD_FAULT, text)
            case _:
                pass
        report.messages.append(message)

    def _edge(self, message: EdgeSeen, report: Report) -> None:
        doubt = self.book.contradiction(message)
        edge, lost = self.book.edge(message)
        self._tell_of_edges(message, doubt, lost, report)
        report.edges.append(edge)

    def _total(self, message: Total | Hello, report: Report) -> None:
        if self.book.open:
            doubt = self.book.contradiction(message)
            self._tell_of_edges(message, doubt, self.book.total(message), report)

    def _tell_of_edges(
        self, message: EdgeSeen | Total | Hello, doubt: str, lost: EdgesLost | None, report: Report
    ) -> None:
        if doubt:
            report.contradiction(f"{message.KIND!r} says {doubt}")
        if lost:
            text = f"{lost}: they are in the board's total, their times are unknown"
            report.tell(Level.DOUBT, Code.BEAM_EDGES_LOST, text)

    def _answered(self, now_ns: int, message: Ok | No, report: Report) -> None:
        if message.line == self._greeting:
            self._greeting_done = isinstance(message, Ok)
            return
        answer = self._outgoing.answer(message, now_ns)
        if answer:
            report.answers.append(answer)
        if isinstance(message, No):
            asked = f"{answer.message.KIND!r} " if answer else ""
            text = f"the board refused {asked}(line {message.line}): {message.reason}"
            report.tell(Level.INFO, Code.BOARD_REFUSED, text)
            if message.reason in (Refusal.NUMBER, Refusal.BOOT) and self._linked:
                self._lose(now_ns)

    def _met(self, now_ns: int, heard: Heard, hello: Hello, report: Report) -> None:
        """Take a hello: an answer to the greeting, or a board that tells of its reset."""
        if hello.version != VERSION:
            self._other_version(str(hello.version), report)
            return
        self.hello = hello
        self._total(hello, report)
        if self.book.open and heard.turn is Turn.NEW_BOOT and not hello.edges:
            report.edges.append(self.book.row(hello))
        if self._greeting_done:
            self._greeting, self._greeting_done = None, False
            self._linked = True
            self._outgoing.boot = heard.line.boot
            if not self.book.open:
                report.edges.append(self.book.begin(hello))
        elif not self._linked:
            self._greet_soon(now_ns)

    def _not_understood(self, line: Line, report: Report) -> None:
        version = line.fields[0] if line.fields else ""
        if line.kind == Hello.KIND and version.isdigit() and version != str(VERSION):
            self._other_version(version, report)
        elif known_kind(line.kind):
            report.contradiction(f"a line {line.kind!r} with fields {line.fields}")
        else:
            report.contradiction(f"a line of unknown kind {line.kind!r}")

    def _other_version(self, version: str, report: Report) -> None:
        self._linked, self._holding, self._foreign = False, False, True
        text = f"the board speaks version {version} of the protocol, this program {VERSION}"
        report.tell(Level.INVALID, Code.BOARD_OTHER_VERSION, text)

    def _restarted(self, now_ns: int, report: Report) -> None:
        self._lose(now_ns)
        self.limits = None
        if self.book.open:
            self.book.restart()
            text = "the board restarted; what passed meanwhile is not covered"
            report.tell(Level.DOUBT, Code.BOARD_RESTARTED, text)

    def _lose(self, now_ns: int) -> None:
        """Take the board as not linked: greet it anew, and give up what was asked."""
        self._linked, self._holding = False, False
        self._greeting_done = False
        self._greet_soon(now_ns)
        self._outgoing.give_up(now_ns, sent_until_ns=now_ns)

    def _greet_soon(self, now_ns: int) -> None:
        """Greet at the next turn; where a greeting waits for its answer, give it a little time."""
        self._greet_at_ns = now_ns
        if self._greeting is not None:
            self._greet_at_ns = max(now_ns, self._greeted_ns + _GREET_SOONEST_MS * _MS)

    def _greet(self, now_ns: int) -> None:
        self._greeting_done = False
        self._greeting = self._outgoing.write(Greet(), boot=0)
        self._greeted_ns = now_ns
        self._greet_at_ns = now_ns + _GREET_AGAIN_MS * _MS

    def _renew(self, now_ns: int) -> None:
        """Renew once, however late it is: lost renewals are not made good by a burst."""
        self._outgoing.ask(now_ns, Renew())
        self._renew_at_ns = now_ns + RENEW_MS * _MS

    def _require_link(self, what: str) -> None:
        if not self._linked:
            raise UsageError(
                f"{what!r} for a board that has not answered the greeting",
                where=self._where,
                remedy="wait until it is linked",
            )
