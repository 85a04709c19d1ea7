"""What goes wrong on the line to a board, and what the host makes of it."""

from dataclasses import replace
from itertools import pairwise

import pytest
from boards import MS, UNTIRING, Joined, raw_line, written

from viscount.beam.pulses import PulseMaker
from viscount.codes import Code
from viscount.devices.protocol.fields import Has
from viscount.devices.protocol.link import HostLink
from viscount.devices.protocol.messages import EdgeSeen, Hello, Ok, Total
from viscount.devices.protocol.numbered import Heard, NumberedLines
from viscount.testing.board import LossyChannel
from viscount.values import Level

US = 1000
WRAP_US = 2**32


def edge(seq: int, number: int | None = None, *, t_us: int = 0, boot: int = 1) -> bytes:
    told = EdgeSeen(seq=seq, t_us=t_us or 1000 * seq, blocked=seq % 2 == 1)
    return written(told, seq if number is None else number, boot)


def total(edges: int, number: int, *, lost: int = 0, boot: int = 1) -> bytes:
    told = Total(t_us=9, edges=edges, pulses=(edges + 1) // 2, lost=lost, blocked=edges % 2 == 1)
    return written(told, number, boot)


def hello(boot: int = 1, *, edges: int = 0, blocked: bool = False, number: int = 0) -> bytes:
    told = Hello(
        version=1,
        name="a",
        firmware="1",
        tick_ns=1000,
        has=Has(),
        t_us=0,
        edges=edges,
        blocked=blocked,
    )
    return written(told, number, boot)


class Ear:
    """A link that a board has answered; what it then tells is kept."""

    def __init__(self, *, edges: int = 0) -> None:
        self.link = HostLink(0)
        self.link.turn(0)
        start = written(Ok(line=0, t_us=0), 65535) + hello(edges=edges, blocked=edges % 2 == 1)
        self.link.hear(0, start)
        assert self.link.linked
        self.edges, self.notices = [], []

    def hear(self, *pieces: bytes) -> "Ear":
        for i, piece in enumerate(pieces):
            report = self.link.hear((20 * i + 1) * MS, piece)
            self.edges += report.edges
            self.notices += report.notices
        return self

    def texts(self, code: Code) -> list[str]:
        return [notice.text for notice in self.notices if notice.code is code]

    @property
    def codes(self) -> list[Code]:
        return [notice.code for notice in self.notices]


# A clock that wraps, and a board that restarts.


def test_a_clock_that_wraps_is_no_gap_in_time():
    both = Joined(replace(UNTIRING, clock_us=4294940000)).run(5)
    times = [4294951000, 4294959000, 4294967000, 7704, 15704, 23704]
    for t_us in times:
        both.board.beam_at_us(t_us, True)
        both.board.beam_at_us((t_us + 3000) % WRAP_US, False)
    both.run(100)
    heads = [one for one in both.edges if one.blocked]
    assert [one.device_t_ns for one in heads] == [t_us * US for t_us in times]
    gaps = [b.device_t_ns - a.device_t_ns for a, b in pairwise(heads)]
    assert [gap % (WRAP_US * US) for gap in gaps] == [8000 * US] * 5
    assert {one.boot for one in both.edges} == {0}
    assert both.link.book.pulses == 6
    assert both.notices == []


def test_a_restart_ends_no_count_and_leaves_no_doubt_unsaid():
    ear = Ear(edges=80)
    before = b"".join(edge(80 + k, k, t_us=4_000_000 + k) for k in range(1, 7))
    after = hello(boot=2) + b"".join(edge(k, k, t_us=10 * k, boot=2) for k in range(1, 5))
    ear.hear(before, after)
    assert ear.link.book.pulses == 5
    assert [(one.boot, one.seq) for one in ear.edges if one.blocked] == [
        (0, 81),
        (0, 83),
        (0, 85),
        (1, 1),
        (1, 3),
    ]
    (notice,) = ear.notices
    assert (notice.level, notice.code) == (Level.DOUBT, Code.BOARD_RESTARTED)
    assert notice.text == "the board restarted; what passed meanwhile is not covered"


def test_a_restart_whose_hello_is_lost_is_seen_by_the_next_edge():
    ear = Ear().hear(edge(1), edge(2), edge(2, 1, boot=2) + edge(3, 2, boot=2))
    assert [(one.boot, one.seq) for one in ear.edges] == [(0, 1), (0, 2), (1, 2), (1, 3)]
    assert ear.codes == [Code.BOARD_LINES_LOST, Code.BOARD_RESTARTED, Code.BEAM_EDGES_LOST]
    assert ear.link.book.edges == 5


def test_a_board_that_calls_itself_by_the_same_boot_again_is_still_seen_to_restart():
    ear = Ear().hear(*(edge(k) for k in range(1, 8)), hello(boot=1) + edge(1) + edge(2))
    assert Code.BOARD_RESTARTED in ear.codes
    assert [one.boot for one in ear.edges] == [0] * 7 + [1] * 3
    assert (ear.link.book.edges, ear.link.book.pulses) == (9, 5)


def test_counts_that_fall_are_a_restart_though_neither_boot_nor_hello_say_so():
    # The board had sent five lines; of the new run the first eight are lost, hello and all.
    ear = Ear().hear(*(edge(k) for k in range(1, 6)), edge(2, 8), total(4, 9))
    assert Code.BOARD_RESTARTED in ear.codes
    assert ear.link.book.edges == 9
    assert ear.link.book.boot == 1


def test_a_wrap_and_a_restart_at_once_are_told_apart():
    both = Joined(replace(UNTIRING, clock_us=WRAP_US - 30_000)).run(5)
    both.board.beam_at_us(WRAP_US - 2000, True)
    both.board.beam_at_us(1000, False)
    both.run(40)
    both.board.reset(both.now_ns + MS)
    both.run(5)
    both.board.beam(both.now_ns + MS, True)
    both.run(5)
    assert [(e.boot, e.seq) for e in both.edges] == [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1)]
    assert [e.device_t_ns // US for e in both.edges[1:3]] == [WRAP_US - 2000, 1000]
    assert both.edges[-1].device_t_ns < 10 * MS
    assert both.codes() == [Code.BOARD_RESTARTED]


# Lines that come in pieces, damaged, or not at all.


def dirty() -> tuple[bytes, ...]:
    """Half a line; 1, 2; 3 in three pieces; noise; 4; 5 with one digit changed; no 6; 7, 8."""
    third = edge(3)
    return (
        edge(0)[9:],
        edge(1) + edge(2),
        third[:7],
        third[7:15],
        third[15:],
        b"\xff" * 5,
        edge(4),
        edge(5).replace(b"5000", b"5100"),
        edge(7) + edge(8),
    )


def test_of_a_dirty_line_the_good_ones_are_taken_and_the_others_told():
    lines = NumberedLines()
    found = [one for piece in dirty() for one in lines.feed(piece)]
    assert [one.line.number for one in found if isinstance(one, Heard)] == [1, 2, 3, 4, 7, 8]
    (gap,) = [one for one in found if not isinstance(one, Heard)]
    assert str(gap) == "1 damaged, 1 missing (5, 6)"
    # What lay there before the first good line is told apart.
    assert (lines.counts.damaged, lines.counts.missing, lines.counts.before_first) == (1, 1, 1)


def test_the_total_of_a_dirty_line_is_right():
    ear = Ear().hear(*dirty(), total(8, 9))
    assert [one.seq for one in ear.edges] == [1, 2, 3, 4, 7, 8]
    assert (ear.link.book.edges, ear.link.book.pulses) == (8, 4)
    assert ear.texts(Code.BOARD_LINES_LOST) == ["1 damaged, 1 missing (5, 6) of the board's lines"]
    assert ear.texts(Code.BEAM_EDGES_LOST) == [
        "2 edges lost (numbers 5 to 6): they are in the board's total, their times are unknown"
    ]


def test_lines_lost_behind_the_last_edge_are_in_the_total():
    ear = Ear().hear(edge(1), edge(2), total(6, 7))
    assert ear.link.book.edges == 6
    assert ear.texts(Code.BOARD_LINES_LOST) == [
        "0 damaged, 4 missing (3, 4, 5, 6) of the board's lines"
    ]
    assert ear.texts(Code.BEAM_EDGES_LOST)[0].startswith("4 edges lost (numbers 3 to 6)")


@pytest.mark.parametrize("end", [b"\x0b", b"\x8a", b"J", b"*", b"\x00", b""])
def test_an_end_that_is_damaged_or_lost_costs_one_line_only(end: bytes):
    ear = Ear().hear(edge(1), edge(2)[:-1] + end, edge(3), edge(4))
    assert [one.seq for one in ear.edges] == [1, 3, 4]
    assert ear.texts(Code.BOARD_LINES_LOST) == ["1 damaged, 0 missing (2) of the board's lines"]


def test_a_line_torn_by_a_reset_does_not_take_the_hello_with_it():
    ear = Ear().hear(edge(1), edge(2)[:11], hello(boot=2), edge(1, boot=2))
    assert ear.codes == [Code.BOARD_RESTARTED]
    assert [(one.boot, one.seq) for one in ear.edges] == [(0, 1), (1, 0), (1, 1)]


def test_damage_where_the_numbers_wrap_is_told_with_its_numbers():
    lines = NumberedLines()
    pieces = (edge(1, 65533), edge(2, 65534).replace(b"edge", b"edgf"), edge(4, 0))
    found = [one for piece in pieces for one in lines.feed(piece)]
    assert [str(one) for one in found if not isinstance(one, Heard)] == [
        "1 damaged, 1 missing (65534, 65535)"
    ]


def test_carriage_returns_are_no_lines_and_the_board_is_called_silent():
    link = HostLink(0)
    link.turn(0)
    link.hear(0, hello().replace(b"\n", b"\r\n"))
    codes = [n.code for ms in range(1, 1100) for n in link.turn(ms * MS).notices]
    assert codes == [Code.BOARD_SILENT]


def test_a_host_s_line_that_is_lost_shuts_the_gate_and_is_mended_by_a_greeting():
    sent = []

    def lose_one(data: bytes) -> bytes:
        if b"renew" in data:
            sent.append(data)
        return b"" if len(sent) == 3 and data is sent[-1] else data

    both = Joined(to_board=lose_one).run(5)
    both.link.hold(both.now_ns)
    both.run(250)
    assert Code.BOARD_REFUSED in both.codes()
    assert "number" in both.texts(Code.BOARD_REFUSED)[0]
    assert both.link.linked
    assert not both.link.holding


def test_an_echo_is_told_and_moves_nothing():
    both = Joined().run(5)
    both.link.hold(both.now_ns)
    echoed = both.link.turn(both.now_ns).to_send
    report = both.link.hear(both.now_ns, echoed)
    assert Code.BOARD_CONTRADICTS in [notice.code for notice in report.notices]


@pytest.mark.parametrize("seed", range(12))
def test_through_a_lossy_line_the_total_stays_right(seed: int):
    channel = LossyChannel(seed, flipped=0.001, dropped=0.0005, noise=0.0005)
    both = Joined(to_host=lambda said: b"".join(channel.carry(said))).run(5)
    for _ in range(100):
        if both.link.linked:
            break
        both.run(100)
    before = both.link.book.edges
    both.parts(60, every_ms=9)
    both.run(1500)
    both.to_host = lambda said: said
    both.run(500)
    assert channel.hurt > 3
    assert (both.link.book.edges - before, both.link.book.pulses) == (120, 60)
    assert both.link.book.came + both.link.book.lost == 120
    # The first row is the level at the hello, no edge.
    assert len(both.edges) - 1 == both.link.book.came
    assert Code.BOARD_RESTARTED not in both.codes()
    assert (both.link.book.lost > 0) is (Code.BEAM_EDGES_LOST in both.codes())


# A reader that sleeps.


def asleep_for(parts: int, *, queue: int = 16) -> Joined:
    both = Joined(replace(UNTIRING, queue=queue)).run(5)
    both.edges.clear()
    both.parts(parts, every_ms=8)
    both.run(8 * parts + 10, asleep=True)
    return both.run(250)


def test_edges_that_the_queue_could_not_hold_are_told_exactly():
    both = asleep_for(20)
    assert [one.seq for one in both.edges] == list(range(25, 41))
    assert both.texts(Code.BEAM_EDGES_LOST) == [
        "24 edges lost (numbers 1 to 24): they are in the board's total, their times are unknown"
    ]
    book = both.link.book
    assert (book.pulses, book.edges, book.lost, book.lost_in_queue) == (20, 40, 24, 24)
    assert Code.BOARD_LINES_LOST not in both.codes()


def test_a_queue_that_is_just_long_enough_loses_nothing():
    both = asleep_for(8)
    assert [one.seq for one in both.edges] == list(range(1, 17))
    assert Code.BEAM_EDGES_LOST not in both.codes()


def test_a_queue_that_is_one_too_short_loses_one_and_begins_in_the_dark():
    both = asleep_for(8, queue=15)
    assert [(one.seq, one.blocked) for one in both.edges[:2]] == [(2, False), (3, True)]
    assert both.texts(Code.BEAM_EDGES_LOST)[0].startswith("1 edge lost (number 1)")
    assert (both.link.book.pulses, both.link.book.lost_in_queue) == (8, 1)


def test_two_sleeps_are_told_one_by_one():
    both = asleep_for(20)
    both.parts(10)
    both.run(100, asleep=True)
    both.run(250)
    assert [text.split(":")[0] for text in both.texts(Code.BEAM_EDGES_LOST)] == [
        "24 edges lost (numbers 1 to 24)",
        "4 edges lost (numbers 41 to 44)",
    ]
    assert (both.link.book.pulses, both.link.book.lost_in_queue) == (30, 28)


def test_a_greeting_gives_up_the_edges_that_wait_and_says_so():
    both = Joined().run(5)
    both.parts(4)
    both.run(50, asleep=True)
    # A line with a wrong number, for whose refusal alone there is room.
    refused = both.board.step(both.now_ns, raw_line(77, "tell"), room=40)
    assert refused.count(b"\n") == 1
    both.keep(both.link.hear(both.now_ns, refused))
    assert not both.link.linked
    both.run(5)
    assert both.link.linked
    assert both.texts(Code.BEAM_EDGES_LOST)[0].startswith("8 edges lost (numbers 1 to 8)")
    assert both.link.book.pulses == 4


# What the beam's room makes of the edges that the link gives.


def pulses_of(both: Joined) -> PulseMaker:
    maker = PulseMaker()
    for one in both.edges:
        maker.feed(one)
    maker.finish()
    return maker


def test_the_beam_s_room_begins_with_the_level_at_the_hello():
    both = Joined(replace(UNTIRING, blocked=True))
    both.board.beam(MS // 2, False)
    both.run(5)
    both.parts(10)
    record = pulses_of(both.run(200)).record
    # The row at the hello is the state, not an edge, though the board had counted one by then.
    assert both.edges[0].seq == 1
    assert (record.edges, record.pulses, record.lost_edges) == (20, 10, 0)


def test_the_beam_s_room_hears_of_what_the_queue_lost():
    both = Joined(replace(UNTIRING, queue=16)).run(5)
    both.parts(20)
    both.run(200, asleep=True)
    record = pulses_of(both.run(250)).record
    assert record.lost_edges == both.link.book.lost == 24


def test_the_beam_s_room_hears_of_wraps_and_restarts():
    both = Joined(replace(UNTIRING, clock_us=WRAP_US - 50_000)).run(5)
    both.parts(10)
    both.run(100)
    both.board.reset(both.now_ns + MS)
    both.run(5)
    both.parts(3)
    record = pulses_of(both.run(100)).record
    assert (record.wraps, record.restarts, record.lost_edges) == (1, 1, 0)
    assert record.pulses == both.link.book.pulses == 13
