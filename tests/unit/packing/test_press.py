"""The board's switch says that a bag is in place: when it does, and above all when it does not."""

from collections.abc import Callable

import pytest
from packing_rig import MS, Falling, Rig, linked, order

from viscount.packing.actions import About
from viscount.packing.events import BoardHeard, HandCount, Pressed, SwitchLost, Word
from viscount.packing.machine import Phase
from viscount.packing.order import BagBy
from viscount.packing.press import FRESH_NS, why_not
from viscount.packing.record import Result


def rig(**more: object) -> Rig:
    return linked(Rig(order(bag_by=BagBy.BOARD, **more))).run(10)


def opens(one: Rig) -> int:
    return one.asked.count("open")


def said(one: Rig, text: str) -> bool:
    return any(text in say.text for say in one.says)


def one_bag(one: Rig) -> Rig:
    one.press()
    return one.until(lambda: one.machine.phase in (Phase.WAITING, Phase.ATTENTION, Phase.ENDED))


def test_each_press_packs_one_bag() -> None:
    one = rig()
    assert "take your hands out, and press the switch" in one.wants()
    for bags in (1, 2, 3):
        one_bag(one)
        assert (len(one.records), opens(one)) == (bags, bags)
        one.run(3000)
        assert opens(one) == bags
    assert [r.result for r in one.records] == [Result.GOOD] * 3
    assert one.ended


def test_enter_opens_nothing_where_the_switch_is_to_say_it() -> None:
    one = rig()
    one.say(Word.BAG)
    one.run(1000)
    assert opens(one) == 0
    assert "not Enter" in one.wants()


def test_where_enter_says_it_the_board_is_not_asked_and_a_press_opens_nothing() -> None:
    one = linked(Rig())
    one.press().run(1000)
    one.step_machine(Pressed(at_ns=one.now_ns))
    one.step_machine(SwitchLost(changes=1))
    one.run(1000)
    assert opens(one) == 0
    assert not said(one, "switch")


@pytest.mark.parametrize("for_ms", [50.0, 60_000.0])
def test_a_press_during_the_pour_starts_no_other_bag(for_ms: float) -> None:
    """Neither at once nor when the bag is done, be it held until then or not."""
    one = rig()
    one.press()
    one.until(lambda: one.machine.heads == 3)
    one.press(for_ms=for_ms)
    one.until(lambda: one.machine.phase is Phase.WAITING)
    one.run(3000)
    assert opens(one) == 1
    assert one.records[-1].result is Result.GOOD
    assert said(one, "opens nothing: no bag is waited for")


def test_a_switch_that_is_held_from_the_beginning_opens_nothing() -> None:
    one = Rig(order(bag_by=BagBy.BOARD))
    one.board.press(0)
    linked(one).run(2000)
    assert opens(one) == 0
    one.board.press(one.now_ns + MS, False)
    one.run(500)
    assert opens(one) == 0
    one.press()
    one.until(lambda: opens(one) == 1)


@pytest.mark.parametrize(
    ("falling", "result"),
    [
        (Falling(camera_misses=1.0), Result.UNSURE),
        (Falling(left=4), Result.SHORT),
        (Falling(every_ms=(18.0, 22.0)), Result.PINCHED),
        (Falling(stuck_at=2), Result.UNSURE),
    ],
)
def test_after_anything_but_a_good_bag_only_keys_go_on(falling: Falling, result: Result) -> None:
    one = rig()
    one.falling = falling
    one_bag(one)
    assert one.records[-1].result is result
    assert one.machine.phase is Phase.ATTENTION
    for _ in range(3):
        one.press().run(500)
        assert (opens(one), one.machine.phase) == (1, Phase.ATTENTION)
    assert said(one, "opens nothing: go on by the keys")
    one.clear_beam()
    one.falling = Falling()
    one.run(100)
    one.empty_blade()
    one.say(Word.ASIDE)
    one.run(1000)
    assert opens(one) == 1
    one_bag(one)
    assert (opens(one), one.records[-1].result) == (2, Result.GOOD)


def test_a_part_at_a_shut_gate_takes_the_switch_its_say() -> None:
    one = rig()
    one.board.beam(one.now_ns + MS, True)
    one.board.beam(one.now_ns + 9 * MS, False)
    one.run(50)
    one.press().run(1000)
    assert (opens(one), one.machine.phase) == (0, Phase.ATTENTION)


def test_what_a_person_has_looked_at_asks_for_no_other_look() -> None:
    """Parts that fall while a bag is set aside were seen by who set it aside."""
    one = rig()
    one.falling = Falling(camera_misses=1.0)
    one_bag(one)
    one.board.beam(one.now_ns + MS, True)
    one.board.beam(one.now_ns + 9 * MS, False)
    one.run(50)
    one.falling = Falling()
    one.empty_blade()
    one.say(Word.ASIDE)
    one.run(50)
    one_bag(one)
    assert (one.records[-1].result, one.machine.phase) == (Result.GOOD, Phase.WAITING)


def test_a_pause_holds_for_the_switch_too() -> None:
    one = rig()
    one.say(Word.PAUSE)
    one.press().run(500)
    assert opens(one) == 0
    one.say(Word.GO_ON)
    one.run(500)
    assert opens(one) == 0
    one.press()
    one.until(lambda: opens(one) == 1)


def test_a_check_pour_is_begun_by_a_press_and_counted_by_hand() -> None:
    one = rig(check=4)
    one.press()
    one.until(lambda: one.machine.phase is Phase.HAND)
    one.press().run(500)
    assert opens(one) == 1
    one.step_machine(HandCount(count=4))
    assert one.machine.phase is Phase.WAITING


@pytest.mark.parametrize(("after_ns", "opened"), [(-50 * MS, 1), (0, 1), (1, 2)])
def test_a_press_of_the_pour_that_is_heard_after_it_opens_nothing(
    after_ns: int, opened: int
) -> None:
    """The board's line was late: what counts is when the switch was pressed."""
    one = one_bag(rig())
    waits_ns = one.now_ns
    one.run(100)
    one.step_machine(Pressed(at_ns=waits_ns + after_ns))
    one.run(1000)
    assert opens(one) == opened
    assert said(one, "it came before a bag was waited for") is (opened == 1)


@pytest.mark.parametrize("pressed", [False, True])
def test_a_cable_that_is_pulled_while_a_bag_is_waited_for_is_told(pressed: bool) -> None:
    """And where somebody leans on the switch as it is plugged in again, nothing opens."""
    one = rig()
    one.unplugged = True
    one.run(1200)
    assert said(one, "the board says nothing")
    assert one.machine.phase is Phase.ATTENTION
    if pressed:
        one.board.press(one.now_ns + MS)
    one.run(1000)
    one.unplugged = False
    one.run(2000)
    assert said(one, "the board is heard again")
    assert opens(one) == 0
    one.say(Word.ASIDE)
    one.run(1000)
    assert (opens(one), one.machine.bag) == (0, 1)
    one.board.press(one.now_ns + MS, False)
    one.run(100)
    one_bag(one)
    assert (opens(one), one.records[-1].result) == (1, Result.GOOD)


def test_a_press_that_was_made_while_the_cable_was_out_for_a_moment_opens_nothing() -> None:
    """Too short for the board to be called silent: its number tells, its time is old."""
    one = rig()
    one.unplugged = True
    one.board.press(one.now_ns + MS)
    one.run(900)
    one.unplugged = False
    one.run(1000)
    assert opens(one) == 0
    assert said(one, "ms late; press again")


def test_presses_of_which_lines_were_lost_open_nothing_and_are_told() -> None:
    one = rig()
    one.unplugged = True
    one.press(for_ms=50).run(60)
    one.press(for_ms=900)
    one.unplugged = False
    one.run(1500)
    assert opens(one) == 0
    assert said(one, "2 changes of the switch were lost")
    one.press()
    one.until(lambda: opens(one) == 1)


def test_a_board_that_never_answered_is_told_and_asks_nobody_to_set_a_bag_aside() -> None:
    one = Rig(order(bag_by=BagBy.BOARD))
    one.unplugged = True
    one.run(1500)
    assert said(one, "the board says nothing")
    assert one.machine.phase is Phase.WAITING
    one.unplugged = False
    linked(one).run(500)
    assert said(one, "the board is heard again")
    one.press()
    one.until(lambda: opens(one) == 1)


def test_a_silent_board_is_told_where_enter_says_it_too_and_takes_nothing_from_it() -> None:
    one = linked(Rig()).run(10)
    for heard in (False, True):
        one.step_machine(BoardHeard(heard=heard, before=True))
    assert [say.text for say in one.says if say.about is not About.WANTS] == [
        "the board says nothing: look at its cable and its power; no pour begins meanwhile",
        "the board is heard again",
    ]
    one.say(Word.BAG)
    one.until(lambda: opens(one) == 1)


def test_a_board_that_restarts_while_its_switch_is_pressed_opens_nothing() -> None:
    one = rig()
    one.board.reset(one.now_ns + MS)
    one.board.press(one.now_ns + MS)
    one.run(2000)
    assert opens(one) == 0
    assert one.machine.phase is Phase.ATTENTION


def moved(first_ms: int) -> Callable[[int], str]:
    return lambda at_ms: why_not(
        at_ns=at_ms * MS, now_ns=max(at_ms, 1000) * MS, waits_since_ns=first_ms * MS
    )


def test_a_press_counts_from_the_moment_a_bag_is_waited_for() -> None:
    since = moved(990)
    assert since(990) == "it came before a bag was waited for"
    assert since(991) == since(5000) == ""
    assert why_not(at_ns=5, now_ns=5, waits_since_ns=None) == "no bag is waited for"


def test_a_press_is_fresh_or_none() -> None:
    for late_ns, why in ((FRESH_NS, ""), (FRESH_NS + 1, "it was heard 500 ms late; press again")):
        assert why_not(at_ns=7, now_ns=7 + late_ns, waits_since_ns=0) == why
