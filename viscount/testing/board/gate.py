"""The gate of a simulated board: the protocol's table of states, with its clocks and limits."""

from collections.abc import Callable
from dataclasses import dataclass

from viscount.devices.protocol.messages import (
    LEASE_MS,
    BladeMoved,
    BoardMessage,
    FaultTold,
    Opened,
    Over,
    Ready,
    StateTold,
)
from viscount.devices.protocol.states import FAULTS, TRANSITIONS, Happening
from viscount.devices.protocol.words import FaultReason, Refusal, State
from viscount.testing.board.blade import Blade
from viscount.testing.board.own_clock import OwnClock
from viscount.testing.board.settings import BoardSettings

_MS = 1_000_000
_COUNTED = 2**16 - 1
_WITH_READINESS = (State.READY, State.OPEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilChange:
    """The coil was switched at a world time."""

    t_ns: int
    on: bool


class Gate:
    """One run of a board's gate, from reset to reset.

    Parameters
    ----------
    t_ns : world time of the reset.
    clock : the board's own; every time-out runs on it.
    blade : what the coil moves.
    coil_log : where each switching of the coil is written down.
    say : sends a line.
    """

    def __init__(
        self,
        t_ns: int,
        settings: BoardSettings,
        clock: OwnClock,
        blade: Blade,
        coil_log: list[CoilChange],
        say: Callable[[BoardMessage], None],
    ) -> None:
        self.state = State.COOLING
        self._settings = settings
        self._clock = clock
        self._blade = blade
        self._coil_log = coil_log
        self._say = say
        self._wanted: Ready | None = None
        self._count = 0
        self._fault = FaultReason.NONE
        self._on_since_ns: int | None = None
        # The board does not remember for how long the coil was on before the reset.
        self._rested_ns = clock.later(t_ns, self._rest_ns(settings.on_ms * _MS))
        self._lease_ns: int | None = None
        self._expiry_ns: int | None = None
        self._limit_ns: int | None = None
        self._cut_ns: int | None = None
        self._blade_ns: int | None = None
        self._watch_blade(t_ns)

    def due(self, now_ns: int) -> tuple[int, Happening] | None:
        """Return what happens next by itself, and when."""
        timers: list[tuple[int | None, Happening]] = [(self._blade_ns, Happening.JAM)]
        if self.state in _WITH_READINESS:
            timers.append((self._lease_ns, Happening.LEASE))
        if self.state is State.READY:
            timers.append((self._expiry_ns, Happening.EXPIRY))
        if self.state is State.OPEN:
            timers.append((self._limit_ns, Happening.LIMIT))
            timers.append((self._cut_ns, Happening.CUT))
        if self.state is State.COOLING and (self._blade.shut or not self._settings.has.shut):
            timers.append((max(self._rested_ns, now_ns), Happening.COOLED))
        set_ones = [(at_ns, happening) for at_ns, happening in timers if at_ns is not None]
        return min(set_ones, key=lambda one: one[0], default=None)

    def come_due(self, t_ns: int, happening: Happening) -> None:
        """Let happen what came due."""
        if happening is Happening.JAM:
            self._blade_ns = None
            if self._blade.shut is not (self.state is State.OPEN):
                return
        self.happen(t_ns, happening)

    def happen(self, t_ns: int, happening: Happening) -> Refusal | None:
        """Take a transition of the table; return the refusal that stands there."""
        step = TRANSITIONS.get((self.state, happening))
        if step is None or step.refusal is not None:
            return step.refusal if step else None
        was, self.state = self.state, step.to
        shown_us = self._clock.shown_us(t_ns)
        if was is not self.state:
            self._switch(t_ns, was)
        if step.over is not None:
            self._say(Over(t_us=shown_us, cause=step.over, count=self._count))
        if self.state is State.FAULT:
            self._fault = FAULTS[happening]
            self._say(FaultTold(t_us=shown_us, reason=self._fault))
        return None

    def ready(self, t_ns: int, wanted: Ready) -> Refusal | None:
        """Take a readiness, or return why not."""
        step = TRANSITIONS[self.state, Happening.READY]
        if step.refusal is not None:
            return step.refusal
        if not (self._settings.has.gate and self._settings.has.beam):
            return Refusal.ABSENT
        if wanted.on_ms > self._settings.on_ms:
            return Refusal.LIMIT
        if not self._leased(t_ns):
            return Refusal.LEASE
        self._wanted, self._count = wanted, 0
        self._cut_ns = self._limit_ns = None
        self._expiry_ns = self._clock.later(t_ns, wanted.expiry_ms * _MS)
        return self.happen(t_ns, Happening.READY)

    def switch_on(self, t_ns: int) -> Refusal | None:
        """Switch the coil on, or return why not. A readiness never outlives its lease."""
        step = TRANSITIONS[self.state, Happening.OPEN]
        if step.refusal is not None:
            return step.refusal
        if self._wanted is None or self._count >= self._wanted.count - self._wanted.early:
            return Refusal.COUNTED
        self._limit_ns = self._clock.later(t_ns, self._wanted.on_ms * _MS)
        return self.happen(t_ns, Happening.OPEN)

    def renew(self, t_ns: int) -> None:
        """Let the lease run anew."""
        self._lease_ns = self._clock.later(t_ns, LEASE_MS * _MS)

    def head_edge(self, t_ns: int) -> None:
        """Count a part; the one that triggers sets the cut."""
        if self.state not in _WITH_READINESS or self._wanted is None:
            return
        self._count = min(self._count + 1, _COUNTED)
        if self._count == self._wanted.count - self._wanted.early:
            self._cut_ns = self._clock.later(t_ns, self._wanted.delay_us * 1000)

    def move_blade(self, t_ns: int) -> None:
        """Let the blade come to its next place."""
        if self._blade.move() and self._settings.has.shut:
            self._say(BladeMoved(t_us=self._clock.shown_us(t_ns), shut=self._blade.shut))

    def reset(self, t_ns: int) -> None:
        """End this run: the coil is off."""
        if self.state is State.OPEN:
            self._write_coil(t_ns, on=False)

    def told(self, t_ns: int) -> StateTold:
        """Return what the gate is doing."""
        left_ns = max(0, self._lease_ns - t_ns) if self._lease_ns is not None else 0
        wanted = self._wanted if self.state in _WITH_READINESS else None
        return StateTold(
            t_us=self._clock.shown_us(t_ns),
            state=self.state,
            coil=self.state is State.OPEN,
            wanted=wanted.count if wanted else 0,
            count=self._count,
            lease_ms=min(left_ns // _MS, LEASE_MS),
            fault=self._fault,
        )

    def _leased(self, t_ns: int) -> bool:
        return self._lease_ns is not None and t_ns < self._lease_ns

    def _switch(self, t_ns: int, was: State) -> None:
        """Switch the coil as the new state has it, and expect the blade to follow."""
        if self.state is State.OPEN:
            self._on_since_ns = t_ns
            self._write_coil(t_ns, on=True)
            self._say(Opened(t_us=self._clock.shown_us(t_ns)))
        elif was is State.OPEN and self._on_since_ns is not None:
            on_ns = self._clock.own_ns(t_ns) - self._clock.own_ns(self._on_since_ns)
            self._rested_ns = self._clock.later(t_ns, self._rest_ns(on_ns))
            self._write_coil(t_ns, on=False)
        if State.OPEN in (was, self.state) or self.state is State.COOLING:
            self._watch_blade(t_ns)

    def _write_coil(self, t_ns: int, *, on: bool) -> None:
        self._coil_log.append(CoilChange(t_ns=t_ns, on=on))
        self._blade.switch(t_ns, on)

    def _watch_blade(self, t_ns: int) -> None:
        if self._settings.has.shut and self._blade.shut is (self.state is State.OPEN):
            self._blade_ns = self._clock.later(t_ns, self._settings.blade_ms * _MS)

    def _rest_ns(self, on_ns: int) -> int:
        """Return for how long the coil must rest after it was on for so long."""
        duty = self._settings.duty_percent
        return on_ns * (100 - duty) // duty
