"""What every board with a press switch must do: tell of it, where it is asked to, and no more."""

from typing import Protocol, runtime_checkable

from viscount.devices.protocol.messages import (
    STANDS_MS,
    TOTAL_MS,
    Greet,
    Hello,
    Ready,
    SwitchTold,
    Watch,
)
from viscount.devices.protocol.words import State
from viscount.testing.answers import require
from viscount.testing.board.trial import MS, Trial

_BAG = Ready(count=3, early=0, delay_us=0, on_ms=500, expiry_ms=5000)


@runtime_checkable
class SwitchOnTrial(Protocol):
    """What a board that has a press switch must offer besides `BoardOnTrial`."""

    def press(self, t_ns: int, pressed: bool = True) -> None:
        """Have the switch's contact made, or broken, at a time to come; it is broken at first."""
        ...


def has_switch(trial: Trial) -> bool:
    """Ask a board whether it has a press switch; it says so by its answer."""
    trial.settle()
    return trial.ask(Watch()) is None


def check_presses(trial: Trial) -> None:
    """It tells each press and each release once, in order, with its time."""
    _watched(trial)
    _touch(trial, (10, True), (110, False), (310, True), (410, False))
    trial.wait(500)
    changes = _changes(trial)
    require(
        [(one.seq, one.pressed) for one in changes[1:]]
        == [(changes[0].seq + 1 + i, i % 2 == 0) for i in range(4)],
        f"two presses were told as {changes[1:]}",
    )
    for one, at_ms in zip(changes[2:], (110, 310, 410), strict=True):
        late_us = (one.t_us - changes[1].t_us) % 2**32 - 1000 * (at_ms - 10)
        require(
            abs(late_us) <= 1000, f"change {one.seq} is {late_us} us off, measured by the first"
        )


def check_bounce(trial: Trial) -> None:
    """Contacts that bounce make one change, and a touch that is too short makes none."""
    _watched(trial)
    bounce = [(10 + 2 * i, i % 2 == 0) for i in range(5)]
    _touch(trial, *bounce, (100, False), (200, True), (200 + STANDS_MS // 2, False))
    trial.wait(300 + trial.late_ms)
    told = [(one.seq, one.pressed) for one in _changes(trial)]
    first = told[0][0]
    require(
        told == [(first, False), (first + 1, True), (first + 2, False)],
        f"a bouncing press, a release and a touch of {STANDS_MS // 2} ms were told as {told[1:]}",
    )


def check_switch_as_it_stands(trial: Trial) -> None:
    """It says at least every 200 ms how the switch stands, with the time since when."""
    _watched(trial)
    _touch(trial, (10, True))
    trial.wait(100)
    trial.said.clear()
    trial.wait(1000 + trial.late_ms)
    told = [one for one in trial.said if isinstance(one, SwitchTold)]
    require(len(told) >= 1000 // TOTAL_MS, f"{len(told)} times in a second")
    require(len(set(told)) == 1 and told[0].pressed, f"a switch that is held was told as {told}")


def check_switch_unasked(trial: Trial) -> None:
    """It says nothing of the switch before it is asked, nor after the next greeting."""
    trial.settle()
    _press(trial)
    trial.wait(300)
    require(trial.last(SwitchTold) is None, "it told of the switch before anybody asked")
    trial.do(Watch())
    trial.wait(trial.late_ms + 1)
    seq = trial.heard(SwitchTold).seq
    require(seq >= 2, f"{seq} changes after a press and a release that nobody watched")
    trial.said.clear()
    trial.do(Greet())
    _press(trial)
    trial.wait(300)
    require(trial.last(SwitchTold) is None, "it told of the switch after another greeting")


def check_press_moves_nothing(trial: Trial) -> None:
    """A press moves nothing, idle or ready, and shuts nothing either."""
    _watched(trial)
    if not trial.heard(Hello).has.gate:
        return
    _press(trial)
    trial.wait(200)
    trial.expect(State.IDLE)
    trial.hold()
    trial.do(_BAG)
    _press(trial)
    trial.wait(200)
    trial.expect(State.READY)
    require(not trial.board.coil_log, "a press switched the coil on")


def _watched(trial: Trial) -> None:
    trial.settle()
    trial.do(Watch())
    trial.wait(trial.late_ms + 1)
    require(not trial.heard(SwitchTold).pressed, "a switch that nobody presses was told as pressed")


def _touch(trial: Trial, *contacts: tuple[int, bool]) -> None:
    """Have contacts made or broken, so many ms from now on."""
    board = trial.board
    if not isinstance(board, SwitchOnTrial):
        raise AssertionError("it says that it has a switch, and there is no `press` to try it by")
    for ms, pressed in contacts:
        board.press(trial.now_ns + ms * MS, pressed)


def _press(trial: Trial) -> None:
    _touch(trial, (10, True), (100, False))


def _changes(trial: Trial) -> list[SwitchTold]:
    """Return what was told of the switch, each state once, in order."""
    told = [one for one in trial.said if isinstance(one, SwitchTold)]
    return [one for i, one in enumerate(told) if i == 0 or one != told[i - 1]]


SWITCH_CHECKS = (
    check_presses,
    check_bounce,
    check_switch_as_it_stands,
    check_switch_unasked,
    check_press_moves_nothing,
)
