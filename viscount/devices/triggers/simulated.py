"""A simulated gate: strokes drawn from ranges, a jam on demand, its coil written down.

It counts head edges that it is handed, commands by itself at the due time, and keeps a lease: what
a board does, without one. Times are handed in.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Self

from pydantic import Field, model_validator

from viscount.seams import (
    Did,
    Fitting,
    GateLimits,
    GateReport,
    GateState,
    Harmless,
    Keeper,
    Options,
    Readiness,
)

BY_ITSELF: Final = Harmless(position="nothing moves", keeper=Keeper.BOARD)
LEASE_NS: Final = 250_000_000
_MS: Final = 1_000_000

Stroke = Annotated[float, Field(ge=0.0, le=1000.0)]


class SimulatedOptions(Options):
    """What the simulated gate is made of; times in ms, drawn evenly between two limits."""

    opens_ms: tuple[Stroke, Stroke] = (6.0, 10.0)
    reach_ms: tuple[Stroke, Stroke] = (8.0, 14.0)
    shut_ms: tuple[Stroke, Stroke] = (12.0, 18.0)
    blade_ms: Annotated[int, Field(ge=1, le=65535)] = 60
    """Later than this, the blade is jammed."""
    on_ms: Annotated[int, Field(ge=1, le=65535)] = 10_000
    duty_percent: Annotated[int, Field(ge=1, le=100)] = 80
    jams: bool = False
    """The blade does not move."""

    @model_validator(mode="after")
    def _ranges_rise(self) -> Self:
        for name in ("opens_ms", "reach_ms", "shut_ms"):
            least, most = getattr(self, name)
            if least > most:
                raise ValueError(f"{name}: the first value is above the second")
        return self


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilMark:
    """The coil was switched."""

    t_ns: int
    on: bool


class SimulatedTrigger:
    """A gate trigger that moves nothing.

    Attributes
    ----------
    coil_log : every switching of the coil it does not have.
    reached_ns : when its blade entered the stream, each time.
    """

    def __init__(self, options: SimulatedOptions, fitting: Fitting) -> None:
        self.coil_log: list[CoilMark] = []
        self.reached_ns: list[int] = []
        self._made = options
        self._rng = random.Random(fitting.seed)
        self._state = GateState.IDLE
        self._wanted: Readiness | None = None
        self._count = 0
        self._tended_ns: int | None = None
        self._expiry_ns = self._limit_ns = self._rested_ns = 0
        self._opened_ns = 0
        self._was_open = False
        self._cut_ns: int | None = None
        self._blade: tuple[int, Did] | None = None
        self._told: list[GateReport] = []

    @property
    def harmless(self) -> Harmless:
        """Nothing moves."""
        return BY_ITSELF

    @property
    def limits(self) -> GateLimits | None:
        """As its options say."""
        made = self._made
        return GateLimits(on_ms=made.on_ms, duty_percent=made.duty_percent, sees_shut=True)

    @property
    def state(self) -> GateState:
        """What it is doing."""
        return self._state

    def ready(self, now_ns: int, wanted: Readiness) -> None:
        """Be ready, if it may."""
        self.live(now_ns)
        if self._state is not GateState.IDLE:
            self._tell(now_ns, Did.REFUSED, f"ready {self._state}")
        elif wanted.on_ms > self._made.on_ms:
            self._tell(now_ns, Did.REFUSED, "ready limit")
        else:
            self._tended_ns = now_ns
            self._state, self._wanted, self._count = GateState.READY, wanted, 0
            self._cut_ns = None
            self._expiry_ns = now_ns + wanted.expiry_ms * _MS
            self._tell(now_ns, Did.READIED)

    def open(self, now_ns: int) -> None:
        """Switch the coil on, if it may."""
        self.live(now_ns)
        wanted = self._wanted
        if self._state is not GateState.READY or wanted is None:
            self._tell(now_ns, Did.REFUSED, f"open {self._state}")
        elif self._count >= wanted.count - wanted.early:
            self._tell(now_ns, Did.REFUSED, "open counted")
        else:
            self._state = GateState.OPEN
            self._limit_ns = now_ns + wanted.on_ms * _MS
            self._opened_ns = now_ns
            self.coil_log.append(CoilMark(t_ns=now_ns, on=True))
            self._tell(now_ns, Did.OPENED)
            self._move(now_ns, Did.SEEN_OPEN, self._made.opens_ms)

    def shut(self, now_ns: int) -> None:
        """Switch the coil off."""
        self.live(now_ns)
        if self._state is GateState.FAULT:
            self._state = GateState.COOLING
        else:
            self._end(now_ns, "asked")

    def head(self, now_ns: int) -> None:
        """Count a part."""
        self.live(now_ns)
        wanted = self._wanted
        if self._state in (GateState.READY, GateState.OPEN) and wanted is not None:
            self._count += 1
            if self._count == wanted.count - wanted.early:
                self._cut_ns = now_ns + wanted.delay_us * 1000

    def tend(self, now_ns: int) -> Sequence[GateReport]:
        """Live up to now; the lease runs anew."""
        self.live(now_ns)
        self._tended_ns = now_ns
        told, self._told = self._told, []
        return told

    def close(self, now_ns: int) -> None:
        """Switch the coil off."""
        self.shut(now_ns)

    def live(self, now_ns: int) -> None:
        """Do what came due by now, in order, as a board of its own would without a host."""
        while (due := min(self._due(), default=None)) is not None and due[0] <= now_ns:
            at_ns, what = due
            if what == "blade":
                assert self._blade is not None
                (_, did), self._blade = self._blade, None
                self._tell(at_ns, did)
            elif what == "jam":
                self._blade = None
                self._end(at_ns, what)
                self._state = GateState.FAULT
                self._tell(at_ns, Did.FAULT, what)
            elif what == "cooled":
                self._state = GateState.IDLE
            else:
                self._end(at_ns, what)
                if what in ("lease", "limit") and self._was_open:
                    self._state = GateState.FAULT
                    self._tell(at_ns, Did.FAULT, what)

    def _due(self) -> list[tuple[int, str]]:
        due: list[tuple[int, str]] = []
        if self._blade is not None:
            jammed = self._made.jams
            due.append((self._blade[0], "jam" if jammed else "blade"))
        if self._state in (GateState.READY, GateState.OPEN) and self._tended_ns is not None:
            due.append((self._tended_ns + LEASE_NS, "lease"))
        if self._state is GateState.READY:
            due.append((self._expiry_ns, "expiry"))
        elif self._state is GateState.OPEN:
            due.append((self._limit_ns, "limit"))
            if self._cut_ns is not None:
                due.append((self._cut_ns, "count"))
        elif self._state is GateState.COOLING and self._blade is None:
            due.append((self._rested_ns, "cooled"))
        return due

    def _end(self, t_ns: int, cause: str) -> None:
        """End a readiness."""
        was, self._was_open = self._state, self._state is GateState.OPEN
        if was not in (GateState.READY, GateState.OPEN):
            return
        if self._was_open:
            self._state = GateState.COOLING
            duty = self._made.duty_percent
            self._rested_ns = t_ns + (t_ns - self._opened_ns) * (100 - duty) // duty
            self.coil_log.append(CoilMark(t_ns=t_ns, on=False))
            self._tell(t_ns, Did.SHUT, cause)
            self._move(t_ns, Did.SEEN_SHUT, self._made.shut_ms)
        else:
            self._state = GateState.IDLE
            self._tell(t_ns, Did.SHUT, cause)

    def _move(self, t_ns: int, did: Did, spread_ms: tuple[float, float]) -> None:
        after_ms = self._made.blade_ms if self._made.jams else self._rng.uniform(*spread_ms)
        if did is Did.SEEN_SHUT and not self._made.jams:
            reach_ms = self._rng.uniform(*self._made.reach_ms)
            self.reached_ns.append(t_ns + round(min(reach_ms, after_ms) * _MS))
        self._blade = (t_ns + round(after_ms * _MS), did)

    def _tell(self, t_ns: int, did: Did, cause: str = "") -> None:
        count = self._count if did is Did.SHUT else None
        self._told.append(GateReport(heard_ns=t_ns, did=did, cause=cause, count=count))
