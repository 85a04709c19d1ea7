"""Presses of the board's switch, each once, at its own time on the host's clock."""

import pytest

from viscount.devices.protocol.messages import SwitchTold, Total
from viscount.packing.events import Pressed, SwitchLost
from viscount.session.press_switch import PressSwitch

MS = 1_000_000


def total(ms: int, zero_us: int = 0) -> Total:
    t_us = (zero_us + 1000 * ms) % 2**32
    return Total(t_us=t_us, edges=0, pulses=0, lost=0, blocked=False)


def told(seq: int, ms: int, pressed: bool, zero_us: int = 0) -> SwitchTold:
    return SwitchTold(seq=seq % 2**32, t_us=(zero_us + 1000 * ms) % 2**32, pressed=pressed)


@pytest.mark.parametrize("zero_us", [0, 2**31 - 500_000, 2**32 - 450_000, 2**32 - 1])
def test_a_press_bears_its_time_on_the_host_s_clock_however_late_it_is_heard(zero_us: int) -> None:
    """The board's clock is 7 s behind, its lines take 3 ms at least, and wraps at any place."""
    switch, ahead_ns = PressSwitch(), 7000 * MS
    for ms, late_ms in ((0, 9), (200, 3), (400, 300)):
        switch.total(ms * MS + ahead_ns + late_ms * MS, total(ms, zero_us), 0)
    assert switch.told(told(4, 100, False, zero_us)) is None
    pressed = switch.told(told(5, 450, True, zero_us))
    assert isinstance(pressed, Pressed)
    assert pressed.at_ns == pytest.approx(ahead_ns + 453 * MS, abs=MS / 2)


def test_how_it_stands_is_no_press_be_it_told_once_or_often() -> None:
    switch = PressSwitch()
    switch.total(0, total(0), 0)
    assert switch.told(told(7, 1, True)) is None
    for _ in range(3):
        assert switch.told(told(7, 1, True)) is None
    assert switch.told(told(8, 2, False)) is None
    assert isinstance(switch.told(told(9, 3, True)), Pressed)
    assert switch.told(told(9, 3, True)) is None


@pytest.mark.parametrize(
    ("seq", "pressed", "lost"), [(6, True, 1), (7, False, 2), (5, False, 1), (3, True, 1)]
)
def test_changes_that_jump_or_contradict_are_told_and_are_no_press(
    seq: int, pressed: bool, lost: int
) -> None:
    switch = PressSwitch()
    switch.total(0, total(0), 0)
    switch.told(told(4, 1, False))
    assert switch.told(told(seq, 2, pressed)) == SwitchLost(changes=lost)
    assert isinstance(switch.told(told(seq + 1, 3, not pressed)), Pressed) is (not pressed)


def test_numbers_wrap() -> None:
    switch = PressSwitch()
    switch.total(0, total(0), 0)
    switch.told(told(2**32 - 1, 1, False))
    assert isinstance(switch.told(told(2**32, 2, True)), Pressed)


def test_a_board_that_was_linked_anew_begins_anew() -> None:
    switch = PressSwitch()
    switch.total(0, total(0), 0)
    switch.told(told(4, 1, False))
    switch.begin()
    assert switch.told(told(5, 2, True)) is None
    assert switch.told(told(6, 3, False)) is None
    # Before the board told the time nobody knows when a press was.
    assert switch.told(told(7, 4, True)) == SwitchLost(changes=1)
