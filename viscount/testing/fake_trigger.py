"""A gate trigger that relies on this process alone, as one on a pin of the computer would."""

from collections.abc import Sequence

from viscount.seams import (
    Did,
    GateLimits,
    GateReport,
    GateState,
    Harmless,
    Keeper,
    Readiness,
)
from viscount.testing.answers import require
from viscount.testing.board.gate import CoilChange

_MS = 1_000_000


class FakeTrigger:
    """Counts heads and commands in this process: what it does late, it does late.

    Its caller is held to the contract: times never fall.

    Attributes
    ----------
    coil_log : every switching of its coil.
    """

    def __init__(self, *, on_ms: int = 2000) -> None:
        self.coil_log: list[CoilChange] = []
        self._on_ms = on_ms
        self._state = GateState.IDLE
        self._wanted: Readiness | None = None
        self._count = 0
        self._due_ns = self._now_ns = 0
        self._cut_ns: int | None = None
        self._told: list[GateReport] = []

    @property
    def harmless(self) -> Harmless:
        """Coil off, as long as this process lives."""
        return Harmless(position="coil off", keeper=Keeper.PROCESS)

    @property
    def limits(self) -> GateLimits | None:
        """Its own."""
        return GateLimits(on_ms=self._on_ms, duty_percent=100, sees_shut=False)

    @property
    def state(self) -> GateState:
        """What it is doing."""
        return self._state

    def ready(self, now_ns: int, wanted: Readiness) -> None:
        """Be ready, if it may."""
        self._live(now_ns)
        if self._state is not GateState.IDLE or wanted.on_ms > self._on_ms:
            self._tell(Did.REFUSED, "ready state")
            return
        self._state, self._wanted, self._count = GateState.READY, wanted, 0
        self._cut_ns, self._due_ns = None, now_ns + wanted.expiry_ms * _MS
        self._tell(Did.READIED)

    def open(self, now_ns: int) -> None:
        """Switch the coil on, if it may."""
        self._live(now_ns)
        if self._state is not GateState.READY or self._cut_ns is not None or not self._wanted:
            self._tell(Did.REFUSED, "open state")
            return
        self._state, self._due_ns = GateState.OPEN, now_ns + self._wanted.on_ms * _MS
        self.coil_log.append(CoilChange(t_ns=now_ns, on=True))
        self._tell(Did.OPENED)

    def shut(self, now_ns: int) -> None:
        """Switch the coil off."""
        self._live(now_ns)
        self._end("asked")

    def head(self, now_ns: int) -> None:
        """Count a part."""
        self._live(now_ns)
        wanted = self._wanted
        if wanted is None or self._state not in (GateState.READY, GateState.OPEN):
            return
        self._count += 1
        if self._count == wanted.count - wanted.early:
            self._cut_ns = now_ns + wanted.delay_us * 1000

    def tend(self, now_ns: int) -> Sequence[GateReport]:
        """Do what is due, late as it may be."""
        self._live(now_ns)
        told, self._told = self._told, []
        return told

    def close(self, now_ns: int) -> None:
        """Switch the coil off."""
        self.shut(now_ns)

    def _live(self, now_ns: int) -> None:
        require(now_ns >= self._now_ns, f"time fell from {self._now_ns} to {now_ns} ns")
        self._now_ns = now_ns
        if self._state is GateState.OPEN and self._cut_ns is not None and now_ns >= self._cut_ns:
            self._end("count")
        if self._state in (GateState.READY, GateState.OPEN) and now_ns >= self._due_ns:
            self._end("limit" if self._state is GateState.OPEN else "expiry")

    def _end(self, cause: str) -> None:
        if self._state is GateState.OPEN:
            self.coil_log.append(CoilChange(t_ns=self._now_ns, on=False))
        if self._state in (GateState.READY, GateState.OPEN):
            self._state = GateState.IDLE
            self._tell(Did.SHUT, cause)

    def _tell(self, did: Did, cause: str = "") -> None:
        self._told.append(
            GateReport(
                heard_ns=self._now_ns,
                did=did,
                cause=cause,
                count=self._count if did is Did.SHUT else None,
            )
        )
