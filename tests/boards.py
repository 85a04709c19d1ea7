"""A host's link and a simulated board, joined by a line, as several rooms' tests need them."""

from collections.abc import Callable

from viscount.codes import Code
from viscount.devices.protocol.asked import Answer
from viscount.devices.protocol.line import Line, number_after, write_line
from viscount.devices.protocol.link import HostLink
from viscount.devices.protocol.messages import (
    BoardMessage,
    Greet,
    HostMessage,
    Message,
    No,
    Open,
    Ready,
    Renew,
    to_line,
)
from viscount.devices.protocol.numbered import Heard, NumberedLines
from viscount.devices.protocol.report import Report
from viscount.devices.protocol.words import Refusal
from viscount.testing.board import BoardSettings, SimulatedBoard
from viscount.values import Edge, Notice

MS = 1_000_000
UNTIRING = BoardSettings(duty_percent=100)
"""A board whose coil needs no rest, so that it is idle at once."""

Carry = Callable[[bytes], bytes]


def written(message: Message, number: int, boot: int = 1) -> bytes:
    return write_line(to_line(message, number=number, boot=boot))


def raw_line(number: int, kind: str, *fields: str, boot: int = 1) -> bytes:
    return write_line(Line(number=number, boot=boot, kind=kind, fields=fields))


def same(data: bytes) -> bytes:
    return data


class Joined:
    """Lets both live, a ms at a time, and keeps what the link tells."""

    def __init__(
        self,
        settings: BoardSettings = UNTIRING,
        *,
        to_host: Carry = same,
        to_board: Carry = same,
        step_ms: int = 1,
    ) -> None:
        self.board = SimulatedBoard(settings)
        self.link = HostLink(0)
        self.to_host, self.to_board = to_host, to_board
        self.step_ns = step_ms * MS
        self.now_ns = 0
        self.edges: list[Edge] = []
        self.notices: list[Notice] = []
        self.answers: list[Answer] = []
        self.messages: list[BoardMessage] = []
        self.wire = b""

    def keep(self, report: Report) -> None:
        self.edges += report.edges
        self.notices += report.notices
        self.answers += report.answers
        self.messages += report.messages

    def run(self, ms: int, *, asleep: bool = False) -> "Joined":
        """Let time pass; a host that is asleep neither reads nor writes."""
        until_ns = self.now_ns + ms * MS
        while self.now_ns < until_ns:
            self.now_ns += self.step_ns
            if asleep:
                self.board.step(self.now_ns, room=0)
                continue
            turn = self.link.turn(self.now_ns)
            self.keep(turn)
            said = self.board.step(self.now_ns, self.to_board(turn.to_send))
            self.wire += said
            self.keep(self.link.hear(self.now_ns, self.to_host(said)))
        return self

    def parts(self, count: int, *, every_ms: int = 8, dark_ms: int = 3, after_ms: int = 1) -> None:
        """Have parts fall through the beam from now on."""
        for i in range(count):
            head_ns = self.now_ns + (after_ms + i * every_ms) * MS
            self.board.beam(head_ns, True)
            self.board.beam(head_ns + dark_ms * MS, False)

    def codes(self) -> list[Code]:
        return [notice.code for notice in self.notices]

    def texts(self, code: Code) -> list[str]:
        return [notice.text for notice in self.notices if notice.code is code]

    def of(self, kind: type) -> list:
        return [one for one in self.messages if isinstance(one, kind)]


BAG = Ready(count=3, early=0, delay_us=4000, on_ms=600, expiry_ms=700)
"""A small bag, for `Host`."""


class Host:
    """Writes lines by hand, and keeps what the board says."""

    def __init__(self, settings: BoardSettings = UNTIRING) -> None:
        self.board = SimulatedBoard(settings)
        self.now_ns = 0
        self.lines = NumberedLines()
        self.said: list[Message | None] = []
        self.number = 0
        self.to(0)

    def to(self, ms: float, data: bytes = b"", room: int | None = None) -> "Host":
        self.now_ns = round(ms * MS)
        for one in self.lines.feed(self.board.step(self.now_ns, data, room=room)):
            assert isinstance(one, Heard)
            self.said.append(one.message)
        return self

    def on(self, ms: float, *messages: HostMessage) -> "Host":
        for message in messages:
            boot = 0 if isinstance(message, Greet) else 1
            data = written(message, self.number, boot)
            self.number = number_after(self.number)
            self.to(ms, data)
        return self

    def of(self, kind: type) -> list:
        return [one for one in self.said if isinstance(one, kind)]

    def refusals(self) -> list[Refusal]:
        return [one.reason for one in self.of(No)]

    def part(self, ms: float, dark_ms: float = 3) -> None:
        self.board.beam(round(ms * MS), True)
        self.board.beam(round((ms + dark_ms) * MS), False)

    @property
    def coil(self) -> list[tuple[float, bool]]:
        return [(one.t_ns / MS, one.on) for one in self.board.coil_log]


def opened(settings: BoardSettings = UNTIRING, bag: Ready = BAG) -> Host:
    """A board whose gate was opened at 10 ms."""
    return Host(settings).on(5, Greet(), Renew()).on(10, bag, Open())
