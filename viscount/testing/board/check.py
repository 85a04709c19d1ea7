"""The conformance kit for boards: what every one of them must do, whoever wrote its firmware."""

from collections.abc import Callable

from viscount.devices.protocol.messages import Hello, Limits
from viscount.testing.answers import require
from viscount.testing.board.beam_checks import BEAM_CHECKS
from viscount.testing.board.gate_checks import GATE_CHECKS, ON_MS
from viscount.testing.board.switch_checks import SWITCH_CHECKS, has_switch
from viscount.testing.board.trial import BoardOnTrial, Trial


def check_board(make: Callable[[], BoardOnTrial], *, late_ms: int = 1) -> None:
    """Assert that a board keeps the protocol, and its coil within the protocol's limits.

    Each check takes a new board. Those of the gate are left out where the board's hello says that
    it has none, or no beam to count with, and those of the press switch where it does not take
    `watch`; one that does must offer `press` (see `SwitchOnTrial`). A board with a gate must allow
    its coil to be on for half a second. The longest takes some seconds of the board's time, and the
    rest that its own limits ask for after a reset.

    Parameters
    ----------
    make : makes a board that is powered on at time 0, its beam clear and nothing connected to its
        port yet; see `BoardOnTrial`.
    late_ms : how late it may do what is due, and answer.

    Raises
    ------
    AssertionError
        Naming the demand that is not met, and what was met instead.
    """
    hello, limits = _introduction(make(), late_ms)
    require(hello.has.beam, f"a board without a beam cannot be checked: it says {hello.has}")
    checks = list(BEAM_CHECKS)
    if hello.has.gate:
        require(limits.on_ms >= ON_MS, f"its coil may be on for {limits.on_ms} ms, not {ON_MS}")
        checks += GATE_CHECKS
    if has_switch(Trial(make(), late_ms=late_ms)):
        checks += SWITCH_CHECKS
    for check in checks:
        trial = Trial(make(), late_ms=late_ms)
        try:
            check(trial)
            trial.finish()
        except AssertionError as error:
            title = (check.__doc__ or check.__name__).splitlines()[0].rstrip(".")
            raise AssertionError(f"{title}: {error}") from error


def _introduction(board: BoardOnTrial, late_ms: int) -> tuple[Hello, Limits]:
    trial = Trial(board, late_ms=late_ms)
    trial.settle()
    return trial.heard(Hello), trial.heard(Limits)
