"""The conformance kit for gate triggers: what each must do, whoever commands its coil."""

from collections.abc import Callable, Sequence
from typing import Protocol

from viscount.devices.protocol.messages import LEASE_MS
from viscount.hooks.refusal import RefusedError, check_entry_form
from viscount.seams import (
    Did,
    GateEntry,
    GateReport,
    GateState,
    GateTrigger,
    Keeper,
    Readiness,
)
from viscount.testing.answers import require
from viscount.testing.board.gate import CoilChange

_MS = 1_000_000
_STEP_MS = 1
_STARTS_MS = 20_000


class TriggerOnTrial(Protocol):
    """A trigger with what it drives: a simulated board, or an adapter to a real one."""

    @property
    def trigger(self) -> GateTrigger:
        """The trigger, made anew."""
        ...

    @property
    def coil_log(self) -> Sequence[CoilChange]:
        """Every switching of the coil, on the clock of `live`; off at first."""
        ...

    def live(self, now_ns: int, *, host: bool) -> None:
        """Let time pass. Without `host` nothing of this computer runs: it hangs, or is gone."""
        ...

    def part(self, t_ns: int) -> None:
        """Have a part pass the beam at a time to come."""
        ...


class _Trial:
    """Drives a trigger a ms at a time."""

    def __init__(self, make: Callable[[], TriggerOnTrial], late_ms: int) -> None:
        self.rig = make()
        self.trigger = self.rig.trigger
        self.now_ns = 0
        self.late_ms = late_ms
        self.reports: list[GateReport] = []

    @property
    def coil(self) -> bool:
        """Whether the coil is on."""
        log = self.rig.coil_log
        return bool(log) and log[-1].on

    def wait(self, ms: int, *, host: bool = True) -> None:
        """Let time pass."""
        for _ in range(0, ms, _STEP_MS):
            self.now_ns += _STEP_MS * _MS
            self.rig.live(self.now_ns, host=host)
            if host:
                self.reports += self.trigger.tend(self.now_ns)

    def heard(self, did: Did) -> GateReport:
        """Return the last report of a kind, which there must be."""
        found = [one for one in self.reports if one.did is did]
        require(bool(found), f"nothing was reported as '{did}'; {self._causes()}")
        return found[-1]

    def settle(self) -> None:
        """Wait until it is idle."""
        for _ in range(0, _STARTS_MS, 20):
            # A board that rests says so by refusing: a readiness finds out.
            self.reports.clear()
            self.trigger.ready(self.now_ns, _PLAIN)
            self.wait(self.late_ms)
            if any(one.did is Did.READIED for one in self.reports):
                self.trigger.shut(self.now_ns)
                self.wait(self.late_ms)
                self.reports.clear()
                return
            self.wait(20)
        raise AssertionError(f"it was not ready within {_STARTS_MS} ms: {self._causes()}")

    def ask_open(self) -> None:
        """Ask it to open."""
        trigger = self.trigger
        trigger.open(self.now_ns)

    def opened(self, wanted: Readiness) -> None:
        """Have it ready, and open."""
        self.settle()
        self.trigger.ready(self.now_ns, wanted)
        self.wait(self.late_ms)
        self.heard(Did.READIED)
        require(not self.coil, "the coil is on when it is only ready")
        self.ask_open()
        self.wait(self.late_ms)
        self.heard(Did.OPENED)
        require(self.coil, "it says that it opened, and the coil is off")
        require(self.trigger.state is GateState.OPEN, f"open, its state is {self.trigger.state}")

    def shut_as(self, cause: str) -> GateReport:
        """Return how it shut, for that cause."""
        report = self.heard(Did.SHUT)
        require(report.cause == cause, f"it shut for '{report.cause}', not for '{cause}'")
        require(not self.coil, "it says that it shut, and the coil is on")
        return report

    def off_ns(self) -> int:
        """Return when the coil was switched off last."""
        require(bool(self.rig.coil_log) and not self.coil, "the coil is not off")
        return self.rig.coil_log[-1].t_ns

    def _causes(self) -> str:
        return ", ".join(f"{one.did} {one.cause}".strip() for one in self.reports[-5:]) or "silence"


_PLAIN = Readiness(count=3, delay_us=20_000, on_ms=1000, expiry_ms=500)


def check_gate_trigger(make: Callable[[], TriggerOnTrial], *, late_ms: int = 30) -> None:
    """Assert that a gate trigger does what packing relies on.

    Parameters
    ----------
    make : a trigger made anew with what it drives; its time begins at 0.
    late_ms : so long an answer may take.

    Raises
    ------
    AssertionError
        Naming the demand that is not met.
    """
    for check in (
        _nothing_moves,
        _cuts_after_n,
        _host_pauses,
        _shuts_when_asked,
        _opens_only_ready,
        _host_is_gone,
        _too_long_on,
        _lapses,
        _is_closed,
    ):
        try:
            check(_Trial(make, late_ms))
        except AssertionError as error:
            title = (check.__doc__ or check.__name__).splitlines()[0].rstrip(".")
            raise AssertionError(f"{title}: {error}") from error


def check_gate_trigger_entry(
    entry: GateEntry, make: Callable[[], TriggerOnTrial], *, late_ms: int = 30
) -> None:
    """Assert that an entry can be registered, says what its trigger says, and that this holds."""
    try:
        check_entry_form(entry)
    except RefusedError as refused:
        raise AssertionError(str(refused)) from refused
    own = make().trigger.harmless
    require(own == entry.harmless, f"the entry says {entry.harmless}, the trigger {own}")
    check_gate_trigger(make, late_ms=late_ms)


def _nothing_moves(trial: _Trial) -> None:
    """Making and tending it moves nothing."""
    require(isinstance(trial.trigger, GateTrigger), "it lacks a method of GateTrigger")
    require(bool(trial.trigger.harmless.position), "its harmless position has no words")
    trial.wait(500)
    require(not trial.rig.coil_log, "the coil was switched")


def _cuts_after_n(trial: _Trial) -> None:
    """It shuts by its own count, the delay after the head edge that triggers."""
    for early in (0, 1):
        wanted = Readiness(count=3, early=early, delay_us=20_000, on_ms=1000, expiry_ms=500)
        trial.opened(wanted)
        heads = [trial.now_ns + k * 60 * _MS for k in range(1, 4 - early)]
        for head_ns in heads:
            trial.rig.part(head_ns)
        trial.wait(60 * len(heads) + 40)
        report = trial.shut_as("count")
        require(report.count == len(heads), f"{len(heads)} parts were {report.count} to it")
        late_ms = (trial.off_ns() - heads[-1]) / _MS - 20
        require(-0.1 <= late_ms <= 2.0, f"the command came {late_ms:.1f} ms late")
        trial.wait(200)


def _host_pauses(trial: _Trial) -> None:
    """A host that pauses for 50 ms at the critical moment changes nothing."""
    if trial.trigger.harmless.keeper is Keeper.PROCESS:
        return
    trial.opened(_PLAIN)
    heads = [trial.now_ns + k * 60 * _MS for k in range(1, 4)]
    for head_ns in heads:
        trial.rig.part(head_ns)
    trial.wait(175)
    trial.wait(50, host=False)
    late_ms = (trial.off_ns() - heads[-1]) / _MS - 20
    require(abs(late_ms) <= 0.2, f"the command came {late_ms:.1f} ms late")
    trial.wait(50)
    trial.shut_as("count")


def _shuts_when_asked(trial: _Trial) -> None:
    """It shuts when it is asked, ready or open."""
    trial.opened(_PLAIN)
    trial.trigger.shut(trial.now_ns)
    trial.wait(trial.late_ms)
    trial.shut_as("asked")


def _opens_only_ready(trial: _Trial) -> None:
    """It opens only when it is ready, and once for each readiness."""
    trial.settle()
    trial.ask_open()
    trial.wait(trial.late_ms)
    trial.heard(Did.REFUSED)
    require(not trial.coil, "the coil is on")
    trial.opened(_PLAIN)
    trial.trigger.shut(trial.now_ns)
    trial.wait(trial.late_ms)
    trial.ask_open()
    trial.wait(trial.late_ms)
    require(not trial.coil, "the coil is on again without another readiness")


def _host_is_gone(trial: _Trial) -> None:
    """Once the host is gone the coil is off within the lease."""
    if trial.trigger.harmless.keeper is Keeper.PROCESS:
        return
    trial.opened(_PLAIN)
    gone_ns = trial.now_ns
    trial.wait(LEASE_MS + 100, host=False)
    took_ms = (trial.off_ns() - gone_ns) / _MS
    require(took_ms <= LEASE_MS + 1, f"the coil was on for {took_ms:.0f} ms more")


def _too_long_on(trial: _Trial) -> None:
    """The coil is never on for longer than was asked for."""
    trial.opened(_PLAIN)
    on_ns = trial.rig.coil_log[-1].t_ns
    trial.wait(_PLAIN.on_ms + 50)
    on_ms = (trial.off_ns() - on_ns) / _MS
    require(on_ms <= _PLAIN.on_ms + 2, f"it was on for {on_ms:.0f} ms")
    trial.shut_as("limit")


def _lapses(trial: _Trial) -> None:
    """A readiness lapses where nobody opens."""
    trial.settle()
    trial.trigger.ready(trial.now_ns, _PLAIN)
    trial.wait(_PLAIN.expiry_ms + 50)
    trial.shut_as("expiry")
    trial.ask_open()
    trial.wait(trial.late_ms)
    require(not trial.coil, "it opened all the same")


def _is_closed(trial: _Trial) -> None:
    """Closing it leaves the coil off, open as it may be."""
    trial.opened(_PLAIN)
    trial.trigger.close(trial.now_ns)
    trial.wait(trial.late_ms)
    require(not trial.coil, "the coil is on")
    trial.trigger.close(trial.now_ns)
