"""A board that speaks the protocol, simulated: a pure machine on world time that is handed in."""

import heapq
import random
from collections.abc import Callable
from itertools import count

from viscount.devices.protocol.line import Line, number_after
from viscount.devices.protocol.messages import (
    TOTAL_MS,
    VERSION,
    EdgeSeen,
    Greet,
    Hello,
    Lamp,
    Limits,
    Message,
    No,
    Ok,
    Open,
    Ready,
    Renew,
    Shut,
    Tell,
    Total,
    Watch,
    from_line,
    known_kind,
)
from viscount.devices.protocol.states import Happening
from viscount.devices.protocol.stream import LineStream
from viscount.devices.protocol.words import Refusal, State
from viscount.testing.answers import require
from viscount.testing.board.blade import Blade, BladeMove
from viscount.testing.board.gate import CoilChange, Gate
from viscount.testing.board.outbox import Outbox
from viscount.testing.board.own_clock import OwnClock
from viscount.testing.board.settings import BoardSettings
from viscount.testing.board.switch import Switch

_MS = 1_000_000
_BOOTS = 2**16 - 1
_U32 = 2**32

_Due = tuple[int, Callable[[int], None]]


class SimulatedBoard:
    """A board with a beam and a gate, its timers exact, its faults on demand.

    Everything that happens, happens at world times in ns that never fall. `step` lets the board
    live up to a time, gives it what the host wrote by then, and returns what it writes.

    Parameters
    ----------
    settings : what it is made of.
    seed : of its blade's times.
    now_ns : when it is powered on.

    Attributes
    ----------
    lamp_permille : as last set.
    """

    def __init__(
        self, settings: BoardSettings | None = None, *, seed: int = 0, now_ns: int = 0
    ) -> None:
        self.lamp_permille = 0
        self._settings = settings or BoardSettings()
        self._now_ns = now_ns
        self._coil_log: list[CoilChange] = []
        self._blade = Blade(self._settings, random.Random(seed))
        self._blocked = self._settings.blocked
        self._changes: list[tuple[int, int, bool]] = []
        self._order = count()
        self._resets: list[int] = []
        self._contacts: list[tuple[int, int, bool]] = []
        self._contact = False
        self._boot = self._settings.boot
        self._power_on(now_ns, shows_us=self._settings.clock_us)

    @property
    def coil_log(self) -> tuple[CoilChange, ...]:
        """Every switching of the coil, at its true time."""
        return tuple(self._coil_log)

    @property
    def blade_log(self) -> tuple[BladeMove, ...]:
        """Where the blade came to, at its true time."""
        return tuple(self._blade.log)

    @property
    def state(self) -> State:
        """What the gate is doing."""
        return self._gate.state

    @property
    def due_ns(self) -> int:
        """When something happens next by itself: `step` has then something to do."""
        return min(at_ns for at_ns, _ in self._due())

    def beam(self, t_ns: int, blocked: bool) -> None:
        """Have the beam go dark, or light, at a time that is not past."""
        self._not_past(t_ns)
        heapq.heappush(self._changes, (t_ns, next(self._order), blocked))

    def beam_at_us(self, device_us: int, blocked: bool) -> int:
        """Have the beam change when the board's clock next shows a time; return when that is."""
        own_us = self._clock.own_ns(self._now_ns) // 1000
        ahead_us = (device_us - own_us) % _U32
        t_ns = max(self._now_ns, self._clock.when((own_us + ahead_us) * 1000))
        self.beam(t_ns, blocked)
        return t_ns

    def press(self, t_ns: int, pressed: bool = True) -> None:
        """Have the switch's contact made, or broken, at a time that is not past."""
        self._not_past(t_ns)
        heapq.heappush(self._contacts, (t_ns, next(self._order), pressed))

    def reset(self, t_ns: int) -> None:
        """Have the board restart at a time that is not past."""
        self._not_past(t_ns)
        heapq.heappush(self._resets, t_ns)

    def open_port(self, t_ns: int) -> None:
        """Have the host open the port, which resets some boards."""
        if self._settings.resets_on_open:
            self.reset(t_ns)

    def jam(self, *, jammed: bool = True) -> None:
        """Have the blade stay where it is, or be free again."""
        self._blade.jammed = jammed
        if not jammed:
            self._blade.switch(self._now_ns, self.state is State.OPEN)

    def step(self, now_ns: int, received: bytes = b"", *, room: int | None = None) -> bytes:
        """Live up to a time, then take what the host wrote; return what the board writes.

        `room` is how many bytes can be written, None for any number. Lines stay whole.
        """
        require(now_ns >= self._now_ns, f"time fell from {self._now_ns} to {now_ns} ns")
        self._live_until(now_ns)
        if self._alive:
            for one in self._stream.feed(received):
                if isinstance(one, Line):
                    self._obey(now_ns, one)
            self._live_until(now_ns)
        return self._outbox.take(room, lambda: self._total(now_ns))

    def _not_past(self, t_ns: int) -> None:
        require(t_ns >= self._now_ns, f"{t_ns} ns is before the board's {self._now_ns} ns")

    def _power_on(self, t_ns: int, *, shows_us: int = 0) -> None:
        made = self._settings
        self._clock = OwnClock(
            t_ns, shows_us=shows_us, drift_ppm=made.drift_ppm, tick_ns=made.tick_ns
        )
        self._stream = LineStream()
        self._outbox = Outbox(boot=self._boot, edges=made.queue, others=made.outbox)
        self._gate = Gate(t_ns, made, self._clock, self._blade, self._coil_log, self._outbox.say)
        self._switch = Switch(t_ns, self._clock, pressed=self._contact)
        self._expected: int | None = None
        self._edges = self._pulses = 0
        self._alive = False
        self._start_ns = t_ns + made.starts_ms * _MS
        self._total_ns = self._start_ns

    def _live_until(self, now_ns: int) -> None:
        while True:
            at_ns, happen = min(self._due(), key=lambda due: due[0])
            if at_ns > now_ns:
                break
            self._now_ns = max(at_ns, self._now_ns)
            happen(self._now_ns)
        self._now_ns = now_ns

    def _due(self) -> list[_Due]:
        """Return what happens next, each with its time; of those at one time the first is first."""
        due: list[_Due] = []
        if self._resets:
            due.append((self._resets[0], self._restart))
        if self._alive:
            gate_due = self._gate.due(self._now_ns)
            if gate_due is not None:
                happening = gate_due[1]
                due.append((gate_due[0], lambda t_ns: self._gate.come_due(t_ns, happening)))
        if self._contacts:
            due.append((self._contacts[0][0], self._touch))
        if self._alive and self._switch.due_ns is not None:
            due.append((max(self._switch.due_ns, self._now_ns), self._change_switch))
        if self._blade.due_ns is not None:
            due.append((self._blade.due_ns, self._gate.move_blade))
        if self._changes:
            due.append((self._changes[0][0], self._change))
        due.append(
            (self._total_ns, self._ask_total) if self._alive else (self._start_ns, self._start)
        )
        return due

    def _restart(self, t_ns: int) -> None:
        heapq.heappop(self._resets)
        self._gate.reset(t_ns)
        self._boot = self._boot % _BOOTS + 1
        self._power_on(t_ns)

    def _start(self, t_ns: int) -> None:
        self._alive = True
        self._introduce(t_ns)

    def _ask_total(self, t_ns: int) -> None:
        self._outbox.ask_total()
        if self._switch.watched:
            self._outbox.ask_switch(self._switch.told)
        self._total_ns = self._clock.later(t_ns, TOTAL_MS * _MS)

    def _change(self, t_ns: int) -> None:
        """Let the beam change; a board that is not up yet sees nothing of it."""
        _, _, blocked = heapq.heappop(self._changes)
        changed, self._blocked = blocked != self._blocked, blocked
        if not (changed and self._alive and self._settings.has.beam):
            return
        self._edges = (self._edges + 1) % _U32
        shown_us = self._clock.shown_us(t_ns)
        self._outbox.say(EdgeSeen(seq=self._edges, t_us=shown_us, blocked=blocked))
        if blocked:
            self._pulses = (self._pulses + 1) % _U32
            self._gate.head_edge(t_ns)

    def _touch(self, t_ns: int) -> None:
        """Let the switch's contact change; the board looks whether it stands."""
        _, _, self._contact = heapq.heappop(self._contacts)
        self._switch.contact(t_ns, self._contact)

    def _change_switch(self, t_ns: int) -> None:
        self._switch.change()
        if self._switch.watched:
            self._outbox.say(self._switch.told())

    def _introduce(self, t_ns: int) -> None:
        made = self._settings
        self._outbox.say(
            Hello(
                version=VERSION,
                name=made.name,
                firmware=made.firmware,
                tick_ns=made.tick_ns,
                has=made.has,
                t_us=self._clock.shown_us(t_ns),
                edges=self._edges,
                blocked=self._blocked,
            )
        )
        self._outbox.say(
            Limits(
                on_ms=made.on_ms,
                duty_percent=made.duty_percent,
                blade_ms=made.blade_ms,
                queue=made.queue,
            )
        )
        self._ask_total(t_ns)

    def _total(self, now_ns: int) -> Total:
        return Total(
            t_us=self._clock.shown_us(now_ns),
            edges=self._edges,
            pulses=self._pulses,
            lost=self._outbox.lost % _U32,
            blocked=self._blocked,
        )

    def _obey(self, t_ns: int, line: Line) -> None:
        """Take a good line of the host, and answer it."""
        message = from_line(line)
        if isinstance(message, Greet):
            self._expected = number_after(line.number)
            self._gate.happen(t_ns, Happening.GREET)
            self._outbox.drop_edges()
            self._switch.watched = False
            self._answer(t_ns, line, None)
            self._introduce(t_ns)
        elif line.number != self._expected or line.boot != self._boot:
            refusal = Refusal.NUMBER if line.number != self._expected else Refusal.BOOT
            self._expected = None
            self._gate.happen(t_ns, Happening.WRONG_NUMBER)
            self._answer(t_ns, line, refusal)
        else:
            self._expected = number_after(line.number)
            self._answer(t_ns, line, self._do(t_ns, line, message))

    def _do(self, t_ns: int, line: Line, message: Message | None) -> Refusal | None:
        match message:
            case Ready():
                return self._gate.ready(t_ns, message)
            case Open():
                return self._gate.switch_on(t_ns)
            case Shut():
                return self._gate.happen(t_ns, Happening.SHUT)
            case Renew():
                self._gate.renew(t_ns)
            case Tell():
                self._outbox.say(self._gate.told(t_ns))
            case Lamp() if self._settings.has.lamp:
                self.lamp_permille = message.permille
            case Lamp():
                return Refusal.ABSENT
            case Watch() if self._settings.switch:
                self._switch.watched = True
                self._outbox.ask_switch(self._switch.told)
            case Watch():
                return Refusal.ABSENT
            case None if known_kind(line.kind):
                return Refusal.FIELDS
            case _:
                return Refusal.KIND
        return None

    def _answer(self, t_ns: int, line: Line, refusal: Refusal | None) -> None:
        t_us = self._clock.shown_us(t_ns)
        if refusal is None:
            self._outbox.say(Ok(line=line.number, t_us=t_us))
        else:
            self._outbox.say(No(line=line.number, t_us=t_us, reason=refusal))
