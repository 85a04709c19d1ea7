"""The gate of the beam's own board: asked over the line that tells the beam's edges."""

from collections.abc import Sequence
from typing import Annotated, Final, Protocol, runtime_checkable

from pydantic import Field

from viscount.devices.protocol.asked import Answer, Outcome
from viscount.devices.protocol.messages import (
    BladeMoved,
    BoardMessage,
    FaultTold,
    Hello,
    HostMessage,
    Limits,
    Open,
    Opened,
    Over,
    Ready,
    Shut,
)
from viscount.errors import UsageError
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

BY_BOARD: Final = Harmless(position="coil off, a spring shuts", keeper=Keeper.BOARD)

Told = tuple[int, BoardMessage | Answer | bool]
"""When it was heard, and what: a message, an answer, or whether the board is linked from now on."""


class SerialOptions(Options):
    """The options of the board's gate."""

    lease_patience_ms: Annotated[int, Field(ge=50, le=1000)] = 150
    """Where the program has not looked after the gate for so long, the gate is shut."""


@runtime_checkable
class GateLine(Protocol):
    """What the trigger needs of the line to the board. Whoever owns the port keeps the link."""

    @property
    def linked(self) -> bool:
        """Whether the board has answered the greeting."""
        ...

    def ask(self, message: HostMessage) -> None:
        """Send a line to the board soon; dropped where it is not linked."""
        ...

    def hold(self, until_ns: int) -> None:
        """Renew the lease up to a time; where nobody says more, shut the gate then."""
        ...

    def release(self) -> None:
        """Let the lease run out, and ask nothing."""
        ...

    def told(self) -> Sequence[Told]:
        """Return what the board said, and what became of lines, since this was last asked."""
        ...


class SerialTrigger:
    """Asks the board; the board counts the beam, and commands the gate.

    A host that pauses at the critical moment changes nothing of the cut. The lease is held from
    `ready` on for as long as `tend` is called.

    Raises
    ------
    UsageError : there is no line to a board.
    """

    def __init__(self, options: SerialOptions, fitting: Fitting) -> None:
        if not isinstance(fitting.line, GateLine):
            raise UsageError(
                "a gate on the beam's board without a line to it",
                where="gate.name: serial",
                remedy="name the board's port with --beam-port",
            )
        self._line = fitting.line
        self._patience_ns = options.lease_patience_ms * 1_000_000
        self._limits: Limits | None = None
        self._sees_shut = False
        self._state = GateState.UNKNOWN
        self._holding = False
        self._own: list[GateReport] = []

    @property
    def harmless(self) -> Harmless:
        """Coil off, by the board's lease."""
        return BY_BOARD

    @property
    def limits(self) -> GateLimits | None:
        """The board's own."""
        made = self._limits
        if made is None:
            return None
        return GateLimits(
            on_ms=made.on_ms, duty_percent=made.duty_percent, sees_shut=self._sees_shut
        )

    @property
    def state(self) -> GateState:
        """As the board's messages tell it."""
        return self._state

    def ready(self, now_ns: int, wanted: Readiness) -> None:
        """Ask the board to be ready."""
        if not self._line.linked:
            self._own.append(GateReport(heard_ns=now_ns, did=Did.REFUSED, cause="ready no answer"))
            return
        self._holding = True
        made = self._limits
        self._line.hold(now_ns + self._patience_ns)
        self._line.ask(
            Ready(
                count=wanted.count,
                early=wanted.early,
                delay_us=wanted.delay_us,
                on_ms=wanted.on_ms if made is None else min(wanted.on_ms, made.on_ms),
                expiry_ms=wanted.expiry_ms,
            )
        )

    def open(self, now_ns: int) -> None:
        """Ask the board to open."""
        self._line.ask(Open())

    def shut(self, now_ns: int) -> None:
        """Ask the board to shut; the lease goes on until it did."""
        self._line.ask(Shut())

    def head(self, now_ns: int) -> None:
        """Do nothing: the board counts."""

    def tend(self, now_ns: int) -> Sequence[GateReport]:
        """Read what the board said."""
        if self._holding:
            self._line.hold(now_ns + self._patience_ns)
        reports, self._own = self._own, []
        for heard_ns, one in self._line.told():
            report = self._understood(heard_ns, one)
            if report is not None:
                reports.append(report)
        return reports

    def close(self, now_ns: int) -> None:
        """Ask to shut, and let the lease run out."""
        self._line.ask(Shut())
        self._let_go()

    def _let_go(self) -> None:
        self._holding = False
        self._line.release()

    def _understood(self, heard_ns: int, one: BoardMessage | Answer | bool) -> GateReport | None:
        match one:
            case bool():
                return self._linked(heard_ns, linked=one)
            case Answer():
                return self._answered(heard_ns, one)
            case Hello():
                self._sees_shut = one.has.shut
            case Limits():
                self._limits = one
            case Opened():
                self._state = GateState.OPEN
                return GateReport(heard_ns=heard_ns, did=Did.OPENED, device_t_us=one.t_us)
            case Over():
                self._state = GateState.COOLING
                self._let_go()
                return GateReport(
                    heard_ns=heard_ns,
                    did=Did.SHUT,
                    device_t_us=one.t_us,
                    cause=str(one.cause),
                    count=one.count,
                )
            case BladeMoved():
                did = Did.SEEN_SHUT if one.shut else Did.SEEN_OPEN
                return GateReport(heard_ns=heard_ns, did=did, device_t_us=one.t_us)
            case FaultTold():
                self._state = GateState.FAULT
                return GateReport(
                    heard_ns=heard_ns,
                    did=Did.FAULT,
                    device_t_us=one.t_us,
                    cause=str(one.reason),
                )
            case _:
                pass
        return None

    def _linked(self, heard_ns: int, *, linked: bool) -> GateReport | None:
        was, self._state = self._state, GateState.IDLE if linked else GateState.UNKNOWN
        self._let_go()
        if linked or was is GateState.UNKNOWN:
            return None
        return GateReport(heard_ns=heard_ns, did=Did.LOST)

    def _answered(self, heard_ns: int, answer: Answer) -> GateReport | None:
        asked = answer.message
        if not isinstance(asked, Ready | Open | Shut):
            return None
        if answer.outcome is Outcome.DONE:
            if isinstance(asked, Ready):
                self._state = GateState.READY
                return GateReport(heard_ns=heard_ns, did=Did.READIED, device_t_us=answer.t_us)
            if isinstance(asked, Shut) and self._state is GateState.FAULT:
                self._state = GateState.COOLING
            return None
        cause = str(answer.refusal) if answer.refusal else str(answer.outcome)
        if isinstance(asked, Ready):
            self._let_go()
        return GateReport(
            heard_ns=heard_ns,
            did=Did.REFUSED,
            device_t_us=answer.t_us,
            cause=f"{asked.KIND} {cause}",
        )
