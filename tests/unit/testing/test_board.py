from dataclasses import replace

import pytest
from boards import BAG, MS, UNTIRING, Host, Joined, opened, raw_line, written

from viscount.devices.protocol.fields import Has
from viscount.devices.protocol.messages import (
    EdgeSeen,
    Greet,
    Hello,
    Lamp,
    Limits,
    Ok,
    Open,
    SwitchTold,
    Tell,
    Total,
    Watch,
)
from viscount.devices.protocol.numbered import NumberedLines
from viscount.devices.protocol.words import Refusal
from viscount.testing.board import SimulatedBoard
from viscount.testing.board.own_clock import OwnClock


def test_it_introduces_itself_at_power_on_and_when_greeted():
    host = Host()
    assert [type(one) for one in host.said] == [Hello, Limits, Total]
    host.said.clear()
    host.on(5, Greet())
    assert [type(one) for one in host.said] == [Ok, Hello, Limits, Total]


def test_edges_bear_the_board_s_own_time_to_its_tick():
    settings = replace(UNTIRING, clock_us=500, drift_ppm=1000.0, tick_ns=4000)
    host = Host(settings)
    host.part(100.0017, dark_ms=1)
    host.to(200)
    first, second = host.of(EdgeSeen)
    assert (first.seq, first.blocked) == (1, True)
    assert first.t_us == (500 + 100_001.7 * 1.001) // 4 * 4
    assert second.t_us == (500 + 101_001.7 * 1.001) // 4 * 4


def test_edges_can_be_set_at_times_of_the_board_across_the_wrap():
    host = Host(replace(UNTIRING, clock_us=2**32 - 20_000, drift_ppm=-40.0))
    times = [2**32 - 8000, 0, 8000]
    for i, t_us in enumerate(times):
        host.board.beam_at_us(t_us, i % 2 == 0)
    host.to(60)
    assert [edge.t_us for edge in host.of(EdgeSeen)] == times


def test_a_change_to_the_level_that_is_there_is_no_edge():
    host = Host()
    for ms, blocked in ((1, False), (2, True), (3, True), (4, False)):
        host.board.beam(ms * MS, blocked)
    host.to(10)
    assert [edge.seq for edge in host.of(EdgeSeen)] == [1, 2]


def test_totals_come_five_times_a_second_and_behind_the_edges():
    host = Host()
    for i in range(10):
        host.part(1 + 100 * i)
    for ms in range(1, 1001):
        host.to(ms)
    totals = host.of(Total)
    assert [one.t_us // 1000 for one in totals] == [0, 200, 400, 600, 800, 1000]
    assert [(one.edges, one.pulses) for one in totals][-1] == (20, 10)
    behind = [i for i, one in enumerate(host.said) if isinstance(one, Total)]
    for i in behind:
        ahead = [one for one in host.said[:i] if isinstance(one, EdgeSeen)]
        assert host.said[i].edges == len(ahead)  # type: ignore[union-attr]


def test_a_full_queue_keeps_the_newest_edges_and_counts_the_others():
    host = Host(replace(UNTIRING, queue=16))
    for i in range(20):
        host.part(10 + 8 * i)
    host.to(200, room=0)
    host.to(201)
    assert [edge.seq for edge in host.of(EdgeSeen)] == list(range(25, 41))
    total = host.of(Total)[-1]
    assert (total.edges, total.pulses, total.lost) == (40, 20, 24)


def test_room_is_kept_and_lines_stay_whole():
    host = Host()
    for i in range(20):
        host.part(10 + 8 * i)
    for ms in range(10, 400):
        host.to(ms, room=45)
    assert [edge.seq for edge in host.of(EdgeSeen)] == list(range(1, 41))
    assert host.lines.held_bytes == 0


def test_other_lines_that_give_way_show_as_missing():
    board = SimulatedBoard(replace(UNTIRING, outbox=5))
    lines = NumberedLines()
    lines.feed(board.step(0))
    data = b"".join(raw_line(n, "tell") for n in range(20))
    board.step(MS, data, room=0)
    lines.feed(board.step(2 * MS))
    assert lines.counts.missing == 15


def test_lines_are_refused_with_their_reasons():
    host = Host(replace(UNTIRING, has=Has(beam=True, gate=True, lamp=False, shut=False)))
    host.on(1, Tell())
    assert host.refusals() == [Refusal.NUMBER]
    host.on(2, Greet()).on(3, BAG, Lamp(permille=1), replace(BAG, on_ms=10_001), Open())
    assert host.refusals()[1:] == [
        Refusal.LEASE,
        Refusal.ABSENT,
        Refusal.LIMIT,
        Refusal.STATE,
    ]
    host.to(4, raw_line(host.number, "juggle"))
    host.to(4, raw_line(host.number + 1, "lamp", "x"))
    host.to(4, written(Tell(), host.number + 2, boot=2))
    assert host.refusals()[5:] == [Refusal.KIND, Refusal.FIELDS, Refusal.BOOT]


def test_a_board_without_a_beam_tells_no_edges():
    host = Host(replace(UNTIRING, has=Has(False, True, False, False)))
    host.part(1)
    assert host.to(10).of(EdgeSeen) == []


def test_boots_wrap_without_0():
    board = SimulatedBoard(replace(UNTIRING, boot=65535))
    board.reset(5 * MS)
    assert board.step(6 * MS).startswith(b"^0 1 hello")


def test_a_board_that_starts_slowly_is_deaf_and_blind_meanwhile():
    board = SimulatedBoard(replace(UNTIRING, starts_ms=100))
    board.beam(50 * MS, True)
    assert board.step(60 * MS, written(Greet(), 0, 0)) == b""
    said = board.step(100 * MS)
    assert said.startswith(b"^0 1 hello 1 simulated 1.0 1000 bgls 100000 0 1 ")
    assert b" ok " not in said


def test_the_lamp_is_set():
    host = Host().on(5, Greet(), Lamp(permille=250))
    assert host.board.lamp_permille == 250


def test_a_press_is_told_with_the_time_since_which_the_contact_stood():
    host = Host().on(5, Greet(), Watch())
    for ms, pressed in ((10, True), (12, False), (13, True), (300, False), (330, True)):
        host.board.press(ms * MS, pressed)
    host.board.press(340 * MS, False)
    for ms in range(6, 420):
        host.to(ms)
    told = list(dict.fromkeys((one.seq, one.t_us, one.pressed) for one in host.of(SwitchTold)))
    assert told == [(0, 0, False), (1, 13_000, True), (2, 300_000, False)]


def test_a_press_waits_for_its_line_and_repeats_do_not_pile_up():
    host = Host().on(5, Greet(), Watch())
    host.board.press(10 * MS)
    host.to(2000, room=0)
    host.said.clear()
    host.to(2001)
    assert [(one.seq, one.pressed) for one in host.of(SwitchTold)] == [(1, True)] * 2
    assert len(host.of(Total)) == 1


def test_a_switch_held_through_a_reset_is_no_change_and_watching_ends():
    host = Host().on(5, Greet(), Watch())
    host.board.press(10 * MS)
    host.board.reset(100 * MS)
    host.to(99).said.clear()
    host.to(500)
    assert host.of(SwitchTold) == []
    host.number = 0
    host.to(501, written(Greet(), 0, 0) + written(Watch(), 1, 2))
    assert [(one.seq, one.pressed) for one in host.of(SwitchTold)] == [(0, True)]


def test_a_board_without_a_switch_says_so():
    host = Host(replace(UNTIRING, switch=False)).on(5, Greet(), Watch())
    assert host.refusals() == [Refusal.ABSENT]


def test_due_says_when_something_happens():
    host = opened()
    assert 16 * MS <= host.board.due_ns <= 20 * MS
    host.to(30)
    # When the blade must have left its place at the latest.
    assert host.board.due_ns == 70 * MS


def test_time_never_falls():
    board = SimulatedBoard()
    board.step(10 * MS)
    for late in (
        lambda: board.step(9 * MS),
        lambda: board.beam(9 * MS, True),
        lambda: board.reset(9 * MS),
    ):
        with pytest.raises(AssertionError):
            late()


@pytest.mark.parametrize("drift_ppm", [0.0, 37.0, -250.0])
def test_a_clock_turns_times_there_and_back(drift_ppm: float):
    clock = OwnClock(1_000_007, shows_us=77, drift_ppm=drift_ppm)
    for own_ns in (77_000, 77_001, 10**9, 10**15 + 1):
        t_ns = clock.when(own_ns)
        assert clock.own_ns(t_ns - 1) < own_ns <= clock.own_ns(t_ns)
    assert clock.later(5_000_000, 10**9) - 5_000_000 == pytest.approx(
        10**9 / (1 + drift_ppm * 1e-6), abs=2
    )


def test_host_and_board_agree_through_a_pour():
    both = Joined().run(5)
    both.parts(60, every_ms=9)
    both.run(800)
    assert (both.link.book.edges, both.link.book.pulses) == (120, 60)
    assert both.notices == []


def test_after_a_wrong_number_the_one_that_was_due_is_wrong_too():
    host = Host().on(5, Greet())
    host.number += 1
    host.on(6, Tell())
    host.number -= 2
    host.on(7, Tell())
    assert host.refusals() == [Refusal.NUMBER] * 2
    assert host.on(8, Greet(), Tell()).refusals() == [Refusal.NUMBER] * 2
