"""What every board with a gate must do."""

from viscount.devices.protocol.messages import LEASE_MS, Greet, Limits, Open, Ready, Renew, Shut
from viscount.devices.protocol.words import Cause, FaultReason, Refusal, State
from viscount.testing.answers import require
from viscount.testing.board.trial import MS, Trial

ON_MS = 500
"""For so long the coil may be on, where a check asks for nothing else."""


def wanted(
    count: int = 3,
    *,
    early: int = 0,
    delay_us: int = 4000,
    on_ms: int = ON_MS,
    expiry_ms: int = 500,
) -> Ready:
    """Return a readiness for a small bag."""
    return Ready(count=count, early=early, delay_us=delay_us, on_ms=on_ms, expiry_ms=expiry_ms)


def check_closed_at_first(trial: Trial) -> None:
    """The coil stays off without greeting, lease, readiness and opening, in this order."""
    trial.await_hello()
    refusals = [trial.ask(Open()), trial.ask(wanted())]
    require(refusals == [Refusal.NUMBER] * 2, f"before the greeting it answered {refusals}")
    trial.settle()
    require(trial.ask(Open()) is Refusal.STATE, "it took 'open' while idle")
    require(trial.ask(wanted()) is Refusal.LEASE, "it took 'ready' without a lease")
    trial.hold()
    require(trial.ask(Open()) is Refusal.STATE, "it took 'open' without a readiness")
    trial.do(wanted())
    trial.expect(State.READY)
    require(trial.ask(wanted()) is Refusal.STATE, "it took 'ready' while it was ready")
    require(not trial.board.coil_log, "the coil was switched on before 'open'")


def check_cut(trial: Trial) -> None:
    """It shuts after the N-th head edge and the command delay, by itself."""
    for early in (0, 2):
        _cut(trial, early)


def _cut(trial: Trial, early: int) -> None:
    trial.settle()
    trial.open_gate(wanted(5, early=early))
    heads = trial.parts(7)
    trial.wait(7 * 20 + trial.late_ms)
    over = trial.over()
    late_ns = trial.coil_off_ns() - (heads[4 - early] + 4 * MS)
    require(
        -MS // 100 <= late_ns <= trial.late_ms * MS,
        f"with N = 5 and k = {early} the coil was switched off {late_ns / 1e6} ms late",
    )
    require(over.cause is Cause.COUNT, f"the cut's cause is '{over.cause}'")
    require(over.count == 5 - early, f"{over.count} parts were counted at the cut")
    trial.release()


def check_counted_before(trial: Trial) -> None:
    """It does not open a gate whose part N has passed the beam already."""
    trial.settle()
    trial.hold()
    trial.do(wanted(2))
    trial.parts(2)
    trial.wait(50)
    require(trial.ask(Open()) is Refusal.COUNTED, "it opened after part N had passed")
    require(not trial.coil, "the coil is on after part N had passed")


def check_asked_shut(trial: Trial) -> None:
    """It shuts when asked, ready or open, and when greeted."""
    for asked, cause in ((Shut(), Cause.ASKED), (Greet(), Cause.GREET)):
        trial.settle()
        trial.hold()
        trial.do(wanted())
        trial.do(asked)
        over = trial.over()
        require(over.cause is cause, f"'{asked.KIND}' while ready ended as '{over.cause}'")
        trial.settle()
        trial.open_gate(wanted())
        trial.do(asked)
        require(trial.over().cause is cause, f"'{asked.KIND}' while open ended otherwise")
        require(not trial.coil, f"the coil is on after '{asked.KIND}'")
        trial.release()


def check_lease(trial: Trial) -> None:
    """It shuts 250 ms after the last renewal, and stays so until the host takes note."""
    trial.settle()
    trial.open_gate(wanted())
    trial.wait(120)
    trial.release()
    renewed_ns = trial.now_ns
    trial.do(Renew())
    trial.wait(LEASE_MS + trial.late_ms)
    late_ns = trial.coil_off_ns() - renewed_ns - LEASE_MS * MS
    require(-MS <= late_ns <= trial.late_ms * MS, f"the lease ended {late_ns / 1e6} ms late")
    require(trial.over().cause is Cause.LEASE, f"the lease's end is told as {trial.over()}")
    _fault(trial, FaultReason.LEASE)


def check_lease_when_ready(trial: Trial) -> None:
    """A readiness ends with the lease."""
    trial.settle()
    trial.hold()
    trial.do(wanted())
    trial.release()
    trial.wait(LEASE_MS + 51 + trial.late_ms)
    require(trial.over().cause is Cause.LEASE, f"the lease's end is told as {trial.over()}")
    trial.expect(State.IDLE)


def check_expiry(trial: Trial) -> None:
    """A readiness lapses after its time."""
    trial.settle()
    trial.hold()
    trial.do(wanted(expiry_ms=100))
    trial.wait(101 + trial.late_ms)
    require(trial.over().cause is Cause.EXPIRY, f"the expiry is told as {trial.over()}")
    require(trial.ask(Open()) is Refusal.STATE, "it opened after the readiness had lapsed")


def check_wrong_number(trial: Trial) -> None:
    """A wrong number or boot switches the coil off, and only a greeting is taken then."""
    for skipped, boots_on, refused in ((1, 0, Refusal.NUMBER), (0, 1, Refusal.BOOT)):
        trial.settle()
        trial.open_gate(wanted())
        trial.release()
        number = trial.send(Renew(), skipped=skipped, boot=(trial.boot + boots_on) % 2**16)
        require(trial.answer(number) is refused, "a wrong number or boot was taken")
        require(not trial.coil, f"the coil is on after a wrong '{refused}'")
        require(trial.over().cause is Cause.NUMBER, f"it is told as {trial.over()}")
        for message in (Renew(), wanted(), Open(), Shut()):
            refusal = trial.ask(message)
            require(refusal is Refusal.NUMBER, f"'{message.KIND}' was taken before a greeting")
        if skipped:
            late = trial.send(Renew(), skipped=number - skipped - trial.next_number)
            require(trial.answer(late) is Refusal.NUMBER, "the number that was due came too late")
        require(not trial.coil, "the coil is on before a greeting")


def check_gate_restart(trial: Trial) -> None:
    """A reset switches the coil off, and no line for the earlier run switches it on."""
    trial.settle()
    trial.open_gate(wanted())
    trial.release()
    boot = trial.boot
    trial.board.reset(trial.now_ns + MS)
    trial.said.clear()
    trial.wait(1 + trial.late_ms)
    require(not trial.coil, "the coil is on after a reset")
    trial.await_hello()
    for message in (Greet(), Renew(), wanted(), Open()):
        trial.send(message, boot=boot)
        trial.wait(5)
    require(not trial.coil, "lines for the earlier run switched the coil on")


def check_on_limit(trial: Trial) -> None:
    """The coil is on no longer than the readiness allows, and no readiness is above its limit."""
    trial.settle()
    limits = trial.heard(Limits)
    if limits.on_ms < 2**16 - 1:
        trial.hold()
        refusal = trial.ask(wanted(on_ms=limits.on_ms + 1))
        require(refusal is Refusal.LIMIT, f"it took on_ms above its limit of {limits.on_ms}")
        trial.release()
    trial.open_gate(wanted(on_ms=200))
    trial.wait(200 + trial.late_ms)
    log = trial.board.coil_log
    on_ns = trial.coil_off_ns() - log[-2].t_ns
    require(on_ns <= (200 + trial.late_ms) * MS, f"the coil was on for {on_ns / 1e6} ms, not 200")
    require(trial.over().cause is Cause.LIMIT, f"the limit is told as {trial.over()}")
    trial.release()
    _fault(trial, FaultReason.LIMIT)


def check_rest(trial: Trial) -> None:
    """After the coil was on it rests for as long as its duty asks."""
    trial.settle()
    duty = trial.heard(Limits).duty_percent
    trial.open_gate(wanted())
    trial.wait(300)
    trial.do(Shut())
    log = trial.board.coil_log
    rest_ns = (log[-1].t_ns - log[-2].t_ns) * (100 - duty) // duty
    while trial.now_ns + (trial.late_ms + 1) * MS < log[-1].t_ns + rest_ns:
        refusal = trial.ask(wanted())
        require(refusal is Refusal.COOLING, f"'ready' while it must rest was answered {refusal}")
    trial.release()
    trial.settle()


def _fault(trial: Trial, reason: FaultReason) -> None:
    """Require a fault that lasts until the host takes note of it."""
    trial.expect(State.FAULT)
    told = trial.state().fault
    require(told is reason, f"the fault is told as '{told}', not '{reason}'")
    trial.do(Renew())
    for message in (wanted(), Open()):
        refusal = trial.ask(message)
        require(refusal is Refusal.FAULT, f"'{message.KIND}' in a fault was answered {refusal}")
    trial.do(Shut())
    require(trial.state().state is not State.FAULT, "'shut' did not end the fault")


GATE_CHECKS = (
    check_closed_at_first,
    check_cut,
    check_counted_before,
    check_asked_shut,
    check_lease,
    check_lease_when_ready,
    check_expiry,
    check_wrong_number,
    check_gate_restart,
    check_on_limit,
    check_rest,
)
