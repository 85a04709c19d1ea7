"""The packing machine with a simulated board: what becomes of each kind of bag."""

from dataclasses import replace

import pytest
from packing_rig import (
    BOARD,
    LOOKS,
    MS,
    ORDER,
    OUTLET,
    WAY,
    Falling,
    Rig,
    attention,
    linked,
    one_bag,
    order,
    packed,
)

from viscount.devices.protocol.fields import Has
from viscount.packing.actions import About, Write
from viscount.packing.bag import Bag
from viscount.packing.events import HandCount, Said, Word, Written
from viscount.packing.judging import Judged
from viscount.packing.machine import PackMachine, Phase
from viscount.packing.paired import Paired
from viscount.packing.record import Result
from viscount.seams import Keeper
from viscount.session.pour_pairs import PourPairs
from viscount.testing.board import BoardSettings


def head_times(rig: Rig) -> list[int]:
    """What the board's clock showed at the head edges of the last pour."""
    return [one.device_t_us for one in rig.edges if one.blocked]


def test_good_bags_one_after_the_other_until_there_are_enough() -> None:
    rig = Rig()
    records = packed(linked(rig))
    assert [(r.bag, r.result, r.in_bag) for r in records] == [
        (1, Result.GOOD, 6),
        (2, Result.GOOD, 6),
        (3, Result.GOOD, 6),
    ]
    assert rig.machine.totals.packed == 3
    assert rig.asked.count("open") == 3
    results = [one.text for one in rig.says if one.about is About.RESULT]
    assert results[0] == "bag 1: good (in the bag 6 / wanted 6 / held 0)"


def test_nothing_opens_before_somebody_says_that_a_bag_is_there() -> None:
    rig = Rig().run(5000)
    assert rig.asked == []
    assert rig.board.coil_log == ()


def test_an_empty_magazine_makes_a_short_bag_that_a_second_pour_fills() -> None:
    rig = Rig()
    rig.falling = Falling(left=4)
    attention(one_bag(rig), Result.SHORT, "magazine is empty")
    assert rig.records[-1].missing == 2
    rig.falling = Falling()
    rig.say(Word.TOP_UP)
    rig.until(lambda: rig.machine.phase is Phase.WAITING)
    assert (rig.records[-1].bag, rig.records[-1].result) == (1, Result.GOOD)
    assert (rig.records[-1].in_bag, rig.records[-1].pours, rig.truth.in_bag) == (6, 2, 6)
    assert (rig.machine.totals.packed, rig.machine.totals.bags) == (1, 1)


def test_a_part_that_sticks_in_the_beam_is_a_jam() -> None:
    rig = Rig()
    rig.falling = Falling(stuck_at=2)
    attention(one_bag(rig), Result.UNSURE, "jam: the beam is blocked")
    assert "top it up" not in rig.wants()
    rig.say(Word.TOP_UP)
    assert rig.machine.phase is Phase.ATTENTION
    # Somebody sets the bag aside and leaves the part where it is: nothing opens.
    rig.say(Word.ASIDE)
    opens = rig.asked.count("open")
    rig.say(Word.BAG)
    rig.until(lambda: rig.machine.phase is Phase.ATTENTION)
    assert rig.asked.count("open") == opens
    assert "blocked before the gate opened" in rig.records[-1].reasons[0]


def test_a_blade_that_does_not_move_is_told_by_the_board() -> None:
    rig = linked(Rig())
    rig.until(lambda: rig.link.linked)
    rig.board.jam()
    attention(one_bag(rig), Result.UNSURE, "jam")
    rig.board.jam(jammed=False)
    rig.say(Word.ASIDE)
    rig.run(50)
    rig.say(Word.BAG)
    rig.until(lambda: rig.machine.phase is not Phase.POURING)
    assert rig.records[-1].result is Result.GOOD


def test_counters_that_differ_make_a_bag_unsure() -> None:
    rig = Rig(seed=3)
    rig.falling = Falling(camera_misses=0.5)
    attention(one_bag(rig), Result.UNSURE, "the camera counted")


def test_parts_that_come_while_the_blade_moves_may_be_pinched() -> None:
    rig = Rig()
    rig.falling = Falling(every_ms=(18.0, 22.0))
    attention(one_bag(rig), Result.PINCHED, "may have been under the blade")
    assert rig.truth.pinched or rig.truth.held


@pytest.mark.parametrize("below", [False, True])
def test_held_parts_belong_to_the_next_bag(below: bool) -> None:
    """The next part passes the beam before the command, and arrives at a shut blade.

    A camera that looks below the blade sees it in the next pour, falling from rest.
    """
    rig = Rig(order(bags=40, below_blade=below), seed=5)
    rig.falling = Falling(every_ms=(34.0, 42.0))
    linked(rig)
    for _ in range(6):
        before = rig.truth.held
        rig.truth.in_bag = 0
        rig.say(Word.BAG)
        rig.until(lambda: rig.machine.phase is not Phase.POURING)
        record = rig.records[-1]
        assert (record.result, record.in_bag, record.held) == (Result.GOOD, 6, 1), record
        assert (rig.truth.in_bag, rig.truth.held) == (6, 1)
        assert record.beam == 6 - before + 1
        assert record.camera == (6 if below else record.beam)
        assert record.paired == Paired(agreed=record.camera - (before if below else 0))


def test_too_late_a_command_makes_a_bag_with_too_many() -> None:
    rig = Rig(order(delay_us=130_000, early=0))
    attention(one_bag(rig), Result.OVER)
    assert rig.records[-1].missing == -1
    assert rig.truth.in_bag == 7


def test_a_camera_that_is_gone_makes_a_bag_unsure_before_anything_opens() -> None:
    rig = Rig()
    rig.camera_trouble = "no picture for 1.0 s"
    linked(rig).run(10)
    attention(one_bag(rig), Result.UNSURE, "the camera: no picture")
    assert rig.asked.count("open") == 0


@pytest.mark.parametrize("at", ["readying", "pouring"])
def test_a_camera_that_fails_in_a_pour_has_the_coil_off_at_once(at: str) -> None:
    rig = linked(Rig())
    rig.say(Word.BAG)
    if at == "pouring":
        rig.until(lambda: rig.machine.heads == 2)
    failed_ns = rig.now_ns
    rig.camera_trouble = "no picture for 0.52 s"
    rig.run(60)
    for one in rig.board.coil_log[-1:]:
        assert not one.on
        assert one.t_ns - failed_ns <= 20 * MS
    assert bool(rig.board.coil_log) is (at == "pouring")
    # On again, it still waits for a person.
    rig.camera_trouble = ""
    rig.until(lambda: rig.machine.phase is Phase.ATTENTION)
    attention(rig, Result.UNSURE, "the camera: no picture")


def test_a_board_that_restarts_in_a_pour_makes_a_bag_unsure_and_stays_shut() -> None:
    rig = linked(Rig())
    rig.say(Word.BAG)
    rig.until(lambda: rig.machine.heads == 2)
    rig.board.reset(rig.now_ns + MS)
    rig.until(lambda: rig.machine.phase is Phase.ATTENTION)
    attention(rig, Result.UNSURE, "restarted")


@pytest.mark.parametrize("clears_ms", [6, 7, 8, 10, 13, 40])
def test_a_beam_that_cleared_while_the_board_was_away_is_not_taken_for_blocked(
    clears_ms: int,
) -> None:
    """Its edge may be dropped by the greeting, and then only the total tells the level."""
    rig = linked(Rig())
    rig.board.beam(rig.now_ns + MS, True)
    rig.board.reset(rig.now_ns + 5 * MS)
    rig.board.beam(rig.now_ns + clears_ms * MS, False)
    rig.run(1500)
    assert rig.machine.phase is Phase.ATTENTION
    rig.say(Word.ASIDE)
    assert one_bag(rig).records[-1].result is Result.GOOD


def test_a_pour_that_never_opened_says_nothing_of_the_blade() -> None:
    rig = linked(Rig())
    rig.camera_trouble = "gone"
    rig.run(10)
    assert one_bag(rig).records[-1].reasons == ("the camera: gone",)


def test_a_line_that_is_cut_makes_a_bag_unsure_and_the_lease_shuts_the_gate() -> None:
    rig = linked(Rig())
    rig.say(Word.BAG)
    rig.until(lambda: rig.machine.heads == 2)
    cut_ns = rig.now_ns
    rig.unplugged = True
    rig.until(lambda: rig.machine.phase is Phase.ATTENTION)
    off = rig.board.coil_log[-1]
    assert not off.on
    assert off.t_ns - cut_ns <= 250 * MS
    assert rig.records[-1].result is Result.UNSURE


def test_a_bag_through_a_gate_that_only_this_process_shuts_is_never_good() -> None:
    rig = Rig(order(keeper=Keeper.PROCESS))
    attention(one_bag(rig), Result.UNSURE, "only this process")
    assert rig.truth.in_bag == 6


def test_a_part_at_a_shut_gate_wants_somebody_to_look() -> None:
    rig = linked(Rig())
    rig.board.beam(rig.now_ns + MS, True)
    rig.board.beam(rig.now_ns + 9 * MS, False)
    rig.run(50)
    assert rig.machine.phase is Phase.ATTENTION
    assert "saw a part while the gate was shut" in rig.says[-2].text
    rig.say(Word.BAG)
    rig.run(500)
    assert rig.asked == []
    rig.say(Word.ASIDE)
    assert rig.machine.phase is Phase.WAITING
    assert rig.machine.bag == 1


def test_a_pause_lets_the_pour_end_and_then_waits() -> None:
    rig = linked(Rig())
    rig.say(Word.BAG)
    rig.until(lambda: rig.machine.heads == 2)
    rig.say(Word.PAUSE)
    rig.until(lambda: rig.machine.phase is Phase.WAITING)
    assert rig.records[-1].result is Result.GOOD
    rig.say(Word.BAG)
    rig.run(500)
    assert rig.asked.count("open") == 1
    rig.say(Word.GO_ON)
    rig.say(Word.BAG)
    rig.until(lambda: len(rig.records) == 2)
    assert rig.records[-1].result is Result.GOOD


@pytest.mark.parametrize("after_heads", [0, 1, 5])
def test_a_stop_shuts_writes_the_bag_and_ends(after_heads: int) -> None:
    rig = linked(Rig())
    rig.say(Word.BAG)
    rig.until(lambda: rig.machine.heads == after_heads)
    rig.say(Word.STOP)
    assert rig.asked[-1] == "shut"
    rig.until(lambda: rig.ended)
    assert rig.records[-1].result is Result.UNSURE
    assert "stopped" in rig.records[-1].reasons[0]
    opens = rig.asked.count("open")
    rig.say(Word.BAG)
    rig.run(2000)
    assert rig.asked.count("open") == opens


def test_a_check_pour_comes_first_and_must_be_counted_alike_by_hand() -> None:
    rig = linked(Rig(order(check=4, bags=1)))
    assert "check pour of 4" in rig.wants()
    for by_hand, passed in ((5, False), (4, True)):
        rig.truth.in_bag = 0
        rig.say(Word.BAG)
        rig.until(lambda: rig.machine.phase is Phase.HAND)
        rig.say(Word.BAG)
        assert rig.machine.phase is Phase.HAND
        rig.step_machine(HandCount(count=by_hand))
        record = rig.records[-1]
        assert (record.bag, record.by_hand, record.passed) == (0, by_hand, passed)
        if not passed:
            assert record.result is Result.UNSURE
            assert rig.machine.phase is Phase.ATTENTION
            rig.say(Word.ASIDE)
    assert "bag 1" in rig.wants()
    assert rig.machine.totals.packed == 0


def test_a_coil_that_must_rest_is_waited_for() -> None:
    rig = linked(Rig(settings=replace(BOARD, duty_percent=20)))
    records = packed(rig)
    assert [r.result for r in records] == [Result.GOOD] * 3
    assert rig.asked.count("ready") > 3


def test_without_a_shut_sensor_nobody_waits_for_it() -> None:
    blind = BoardSettings(has=Has(beam=True, gate=True, lamp=False, shut=False), on_ms=8000)
    assert [r.result for r in packed(linked(Rig(settings=blind)))] == [Result.GOOD] * 3


def test_a_line_below_the_blade_needs_no_way() -> None:
    rig = Rig(order(way=None, below_blade=True))
    assert [r.result for r in packed(linked(rig))] == [Result.GOOD] * 3
    with pytest.raises(ValueError, match="nobody could know"):
        order(way=None)


@pytest.mark.parametrize("part", range(1, 7))
def test_a_clock_that_wraps_in_a_pour_changes_nothing(part: int) -> None:
    """The same pour twice; the second time the clock wraps at one of its parts."""
    plain = one_bag(Rig(order(bags=1)))
    heads = head_times(plain)
    rig = one_bag(Rig(order(bags=1), settings=replace(BOARD, clock_us=2**32 - heads[part - 1] - 1)))
    wrapped = head_times(rig)
    assert [t_us > 2**31 for t_us in wrapped].count(True) in (part - 1, part)
    assert rig.records[-1].result is Result.GOOD
    assert rig.records == plain.records


def test_a_word_about_another_bag_is_not_heard() -> None:
    rig = linked(Rig())
    rig.step_machine(Said(word=Word.BAG, bag=2))
    rig.run(500)
    assert rig.asked == []
    rig.step_machine(Said(word=Word.BAG, bag=1))
    rig.until(lambda: "open" in rig.asked)


def test_nothing_goes_on_before_the_record_is_on_the_disk() -> None:
    machine = PackMachine(order(bags=2), PourPairs(OUTLET, lambda: LOOKS))
    rig = linked(Rig())
    rig.machine = machine
    kept: list[Write] = []
    do = rig._do
    rig._do = lambda actions: (  # type: ignore[method-assign]
        kept.extend(a for a in actions if isinstance(a, Write)),
        do([a for a in actions if not isinstance(a, Write)]),
    )[1]
    rig.step_machine(Said(word=Word.BAG))
    rig.until(lambda: bool(kept))
    rig.say(Word.BAG)
    rig.run(2000)
    assert machine.phase is Phase.WRITING
    assert rig.asked.count("open") == 1
    assert machine.totals.bags == 0
    rig.step_machine(Written())
    assert machine.phase is Phase.WAITING


def test_the_way_is_that_of_the_blade_of_the_board() -> None:
    """The blade of the rig keeps to what the order says of it."""
    assert WAY.reach_us <= 1000 * BOARD.reach_ms[0]
    assert WAY.shut_us >= 1000 * BOARD.shut_ms[1]
    assert ORDER.delay_us > 0


def held_one() -> Rig:
    """A good bag, and a part of the next one on the blade."""
    rig = Rig(order(bags=40), seed=5)
    rig.falling = Falling(every_ms=(34.0, 42.0))
    one_bag(rig)
    assert (rig.machine.phase, rig.machine.held, rig.truth.held) == (Phase.WAITING, 1, 1)
    return rig


def test_who_set_a_bag_aside_has_freed_the_blade() -> None:
    rig = held_one()
    rig.board.beam(rig.now_ns + MS, True)
    rig.board.beam(rig.now_ns + 9 * MS, False)
    rig.run(50)
    assert rig.machine.phase is Phase.ATTENTION
    rig.empty_blade()
    rig.say(Word.ASIDE)
    assert rig.machine.held == 0
    assert "the blade must be free of parts" in rig.wants()
    rig.say(Word.BAG)
    rig.until(lambda: rig.machine.phase is not Phase.POURING)
    assert (rig.records[-1].result, rig.truth.in_bag) == (Result.GOOD, 6)


def test_nobody_sets_aside_what_nobody_asked_to() -> None:
    """The part on the blade stays counted for the next bag."""
    rig = held_one()
    rig.say(Word.ASIDE)
    assert (rig.machine.phase, rig.machine.bag, rig.machine.held) == (Phase.WAITING, 2, 1)


def test_a_part_that_falls_while_a_check_pour_is_counted_by_hand_wants_a_look() -> None:
    rig = linked(Rig(order(check=4)))
    rig.say(Word.BAG)
    rig.until(lambda: rig.machine.phase is Phase.HAND)
    rig.board.beam(rig.now_ns + MS, True)
    rig.board.beam(rig.now_ns + 9 * MS, False)
    rig.run(50)
    rig.step_machine(HandCount(count=4))
    assert rig.records[-1].passed
    assert rig.machine.phase is Phase.ATTENTION
    rig.say(Word.BAG)
    rig.run(500)
    assert rig.asked.count("open") == 1


@pytest.mark.parametrize(("held", "can"), [(0, True), (1, True), (2, False), (3, False)])
def test_a_bag_is_topped_up_only_where_more_is_missing_than_lies_on_the_blade(
    held: int, can: bool
) -> None:
    bag = Bag(number=1, wanted=6, part="screw", pours=1)
    one = Judged(fell=4, held=held, beam=4 + held, pinched=False, paired=Paired(), reasons=())
    bag.poured(one, 4 + held, "")
    assert bag.can_top_up(held) is can


@pytest.mark.parametrize("after_heads", [0, 3, 6])
def test_a_camera_that_was_blind_in_a_pour_makes_its_bag_unsure(after_heads: int) -> None:
    """However short that was, and though both counts agree."""
    rig = linked(Rig()).run(10)
    rig.say(Word.BAG)
    rig.until(lambda: rig.machine.heads == after_heads)
    rig.camera_blind_s += 0.02
    rig.until(lambda: rig.machine.phase is Phase.ATTENTION)
    attention(rig, Result.UNSURE, "the camera was blind for a while")


def test_a_camera_that_was_blind_between_pours_spoils_no_bag_but_its_clock_begins_anew() -> None:
    rig = linked(Rig()).run(10)
    forgotten: list[int] = []
    rig.machine._pairs.forget = lambda: forgotten.append(rig.now_ns)  # type: ignore[method-assign]
    one_bag(rig)
    assert forgotten == []
    rig.camera_blind_s += 0.5
    rig.run(10)
    assert len(forgotten) == 1
    assert any("the camera was blind" in one.text for one in rig.says)
    assert one_bag(rig).records[-1].result is Result.GOOD
    assert len(forgotten) == 1
