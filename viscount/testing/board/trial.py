"""A board on trial: driven line by line, everything it says kept."""

from typing import Protocol, TypeVar

from viscount.devices.protocol.line import Line, number_after, write_line
from viscount.devices.protocol.messages import (
    RENEW_MS,
    BoardMessage,
    EdgeSeen,
    Greet,
    Hello,
    HostMessage,
    Limits,
    No,
    Ok,
    Open,
    Over,
    Ready,
    Renew,
    StateTold,
    Tell,
    to_line,
)
from viscount.devices.protocol.numbered import Heard, NumberedLines
from viscount.devices.protocol.words import Refusal, State
from viscount.testing.answers import require
from viscount.testing.board.gate import CoilChange
from viscount.testing.board.recorded import check_recorded_lines

MS = 1_000_000
_STEP_MS = 1
_STARTS_MS = 5000
_ToldT = TypeVar("_ToldT")


class BoardOnTrial(Protocol):
    """What a board must offer to be checked: the simulated one does, an adapter to a real one can.

    An adapter waits in `step` until the time has come, and drives the beam's input and the reset
    line with outputs of its own, and reads the coil's output back.
    """

    def step(self, now_ns: int, received: bytes = b"") -> bytes:
        """Live up to a time, take what the host writes then; return what the board wrote."""
        ...

    def beam(self, t_ns: int, blocked: bool) -> None:
        """Have the beam change at a time to come; it is clear at first."""
        ...

    def reset(self, t_ns: int) -> None:
        """Have the board restart at a time to come."""
        ...

    @property
    def coil_log(self) -> tuple[CoilChange, ...]:
        """Every switching of the coil, on the clock of `step`; off at first."""
        ...


class Trial:
    """Talks to a board, one ms after the other, and looks at what it says."""

    def __init__(self, board: BoardOnTrial, *, late_ms: int) -> None:
        self.board = board
        self.now_ns = 0
        self.late_ms = late_ms
        self.said: list[BoardMessage] = []
        self.boot = 0
        self._lines = NumberedLines()
        self._all = bytearray()
        self._number = 0
        self._renew_at_ns: int | None = None

    @property
    def coil(self) -> bool:
        """Whether the coil is on."""
        log = self.board.coil_log
        return bool(log) and log[-1].on

    @property
    def next_number(self) -> int:
        """The number of the host's next line."""
        return self._number

    def wait(self, ms: int) -> None:
        """Let time pass; the lease is renewed if it is held."""
        until_ns = self.now_ns + ms * MS
        while self.now_ns < until_ns:
            if self._renew_at_ns is not None and self.now_ns >= self._renew_at_ns:
                self._renew_at_ns = self.now_ns + RENEW_MS * MS
                self.send(Renew())
            self.now_ns += _STEP_MS * MS
            self.send_bytes(b"")

    def send_bytes(self, data: bytes) -> None:
        """Write bytes to the board, as they are."""
        answered = self.board.step(self.now_ns, data)
        self._all += answered
        for one in self._lines.feed(answered):
            if isinstance(one, Heard) and one.message is not None:
                self.boot = one.line.boot
                self.said.append(one.message)  # type: ignore[arg-type]

    def send(self, message: HostMessage, *, skipped: int = 0, boot: int | None = None) -> int:
        """Write a line, having skipped some numbers, or gone back; return its own."""
        number = (self._number + skipped) % 2**16
        self._number = number_after(number)
        to_boot = self.boot if boot is None else boot
        self.send_bytes(write_line(to_line(message, number=number, boot=to_boot)))
        return number

    def send_fields(self, kind: str, *fields: str) -> int:
        """Write a line that need not be one of the protocol's; return its number."""
        number = self._number
        self._number = number_after(number)
        self.send_bytes(write_line(Line(number=number, boot=self.boot, kind=kind, fields=fields)))
        return number

    def answer(self, number: int) -> Refusal | None:
        """Wait for the answer to a line; return the reason if it was refused."""
        self.wait(self.late_ms)
        answers = [m for m in self.said if isinstance(m, Ok | No) and m.line == number]
        require(len(answers) == 1, f"line {number} was answered {len(answers)} times")
        return answers[0].reason if isinstance(answers[0], No) else None

    def ask(self, message: HostMessage) -> Refusal | None:
        """Write a line; return the reason if it was refused."""
        return self.answer(self.send(message))

    def do(self, message: HostMessage) -> None:
        """Write a line that must not be refused."""
        refusal = self.ask(message)
        require(refusal is None, f"{message.KIND!r} was refused: {refusal}")

    def last(self, kind: type[_ToldT]) -> _ToldT | None:
        """Return what the board last said of a kind."""
        return next((m for m in reversed(self.said) if isinstance(m, kind)), None)

    def heard(self, kind: type[_ToldT]) -> _ToldT:
        """Return what the board last said of a kind, which it must have said."""
        told = self.last(kind)
        if told is None:
            raise AssertionError(f"the board never said {kind.__name__!r}")
        return told

    def greet(self) -> None:
        """Greet the board."""
        self.said.clear()
        self.do(Greet())
        self.heard(Hello)
        self.heard(Limits)

    def hold(self) -> None:
        """Begin to renew the lease."""
        self.do(Renew())
        self._renew_at_ns = self.now_ns + RENEW_MS * MS

    def release(self) -> None:
        """No longer renew the lease."""
        self._renew_at_ns = None

    def state(self) -> StateTold:
        """Ask for the state."""
        self.do(Tell())
        return self.heard(StateTold)

    def expect(self, state: State) -> None:
        """Require a state, and the coil to be on in `State.OPEN` alone, as told and in truth."""
        told = self.state()
        require(told.state is state, f"the state is '{told.state}', not '{state}'")
        on = state is State.OPEN
        require(told.coil is on, f"in state '{state}' the board says coil {int(told.coil)}")
        require(self.coil is on, f"in state '{state}' the coil is {'on' if self.coil else 'off'}")

    def await_hello(self) -> None:
        """Wait until the board has said hello since the last greeting or reset."""
        self.wait(1)
        for _ in range(_STARTS_MS // 50):
            if self.last(Hello):
                return
            self.wait(50)
        spoilt = self._lines.spoilt + self._lines.counts.before_first
        raise AssertionError(
            f"no hello within {_STARTS_MS} ms of power-on or reset; {spoilt} lines were damaged"
        )

    def settle(self) -> None:
        """Greet the board, and wait until it is idle."""
        self.await_hello()
        self.greet()
        limits = self.heard(Limits)
        rest_ms = limits.on_ms * (100 - limits.duty_percent) // limits.duty_percent
        until_ns = self.now_ns + (rest_ms + limits.blade_ms + 100) * MS
        while self.state().state is State.COOLING and self.now_ns < until_ns:
            self.wait(20)
        self.expect(State.IDLE)

    def open_gate(self, wanted: Ready) -> None:
        """Have an idle board ready for a bag, and open its gate."""
        self.hold()
        self.do(wanted)
        self.do(Open())
        self.expect(State.OPEN)

    def parts(self, count: int, *, every_ms: int = 20, dark_ms: int = 8) -> list[int]:
        """Let parts fall through the beam from the next ms on; return the times of their heads."""
        heads = [self.now_ns + (1 + i * every_ms) * MS for i in range(count)]
        for head_ns in heads:
            self.board.beam(head_ns, True)
            self.board.beam(head_ns + dark_ms * MS, False)
        return heads

    def coil_off_ns(self) -> int:
        """Return when the coil was switched off, which it must have been, last of all."""
        log = self.board.coil_log
        require(bool(log) and not log[-1].on, "the coil was not switched off")
        return log[-1].t_ns

    def over(self) -> Over:
        """Return how the one readiness since the greeting ended."""
        told = [m for m in self.said if isinstance(m, Over)]
        require(len(told) == 1, f"one readiness ended {len(told)} times")
        return told[0]

    def edges(self) -> list[EdgeSeen]:
        """Return the edges heard since the greeting."""
        return [m for m in self.said if isinstance(m, EdgeSeen)]

    def finish(self) -> None:
        """Look at all bytes that the board wrote."""
        check_recorded_lines(bytes(self._all))
