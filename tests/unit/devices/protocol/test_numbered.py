from itertools import pairwise

import pytest
from boards import raw_line, written

from viscount.devices.protocol.fields import Has
from viscount.devices.protocol.messages import EdgeSeen, Hello
from viscount.devices.protocol.numbered import Gap, Heard, NumberedLines, Turn

HELLO = Hello(
    version=1,
    name="a",
    firmware="1",
    tick_ns=1000,
    has=Has(),
    t_us=0,
    edges=0,
    blocked=False,
)


def edge(number: int, boot: int = 1) -> bytes:
    return written(EdgeSeen(seq=number, t_us=0, blocked=True), number, boot)


def damaged(data: bytes) -> bytes:
    return data.replace(b"edge", b"edgf")


def read(*data: bytes) -> tuple[list[int], list[Gap], NumberedLines]:
    lines = NumberedLines()
    found = [one for piece in data for one in lines.feed(piece)]
    heard = [one.line.number for one in found if isinstance(one, Heard)]
    return heard, [one for one in found if isinstance(one, Gap)], lines


def turns(*data: bytes) -> list[Turn]:
    return [one.turn for one in NumberedLines().feed(b"".join(data)) if isinstance(one, Heard)]


def test_the_first_line_may_have_any_number():
    numbers, gaps, lines = read(b"dge 3\n", damaged(edge(40)), edge(41), edge(42))
    assert (numbers, gaps) == ([41, 42], [])
    assert lines.counts.before_first == 2
    assert lines.counts.damaged == 0


def test_a_gap_is_told_before_the_line_that_shows_it():
    found = NumberedLines().feed(edge(1) + damaged(edge(2)) + edge(4))
    assert [type(one) for one in found] == [Heard, Gap, Heard]
    assert found[1] == Gap(first=2, last=3, damaged=1, missing=1)
    assert str(found[1]) == "1 damaged, 1 missing (2, 3)"


def test_many_numbers_are_told_as_a_stretch():
    _, (gap,), lines = read(edge(1), edge(10))
    assert str(gap) == "0 damaged, 8 missing (2 to 9)"
    assert (lines.counts.good, lines.counts.missing) == (2, 8)


def test_numbers_wrap_without_a_gap_and_with_one():
    numbers, gaps, _ = read(edge(65534), edge(65535), edge(0), edge(1))
    assert (numbers, gaps) == ([65534, 65535, 0, 1], [])
    _, (gap,), _ = read(edge(65533), damaged(edge(65534)), edge(1))
    assert str(gap) == "1 damaged, 2 missing (65534, 65535, 0)"


def test_noise_costs_no_line():
    numbers, gaps, lines = read(edge(1), b"ab\n^c\n", edge(2))
    assert (numbers, gaps) == ([1, 2], [])
    assert lines.counts.between == 2


def test_one_line_that_broke_in_two_is_one_damaged_line():
    broken = edge(2).replace(b"dge", b"\nge")
    _, (gap,), lines = read(edge(1), broken, edge(3))
    assert (gap.damaged, gap.missing) == (1, 0)
    assert lines.counts.between == 1


def test_another_boot_begins_with_number_0():
    assert turns(edge(5, boot=1), edge(0, boot=2), edge(1, boot=2)) == [
        Turn.FIRST,
        Turn.NEW_BOOT,
        Turn.NEXT,
    ]
    _, gaps, _ = read(edge(5, boot=1), edge(2, boot=9))
    assert gaps == [Gap(first=0, last=1, damaged=0, missing=2)]


@pytest.mark.parametrize("number", [1, 3, 40_000, 65_535])
def test_a_hello_with_number_0_begins_anew_though_its_boot_does_not_change(number: int):
    assert turns(edge(number), written(HELLO, 0))[1] is (
        Turn.NEW_BOOT if number != 65_535 else Turn.NEXT
    )


def test_numbers_that_fall_begin_anew():
    assert turns(edge(500), edge(3)) == [Turn.FIRST, Turn.NEW_BOOT]
    assert turns(edge(3), edge(500)) == [Turn.FIRST, Turn.NEXT]


def test_the_same_line_once_more_is_a_repetition():
    assert turns(edge(1), edge(1), edge(2)) == [Turn.FIRST, Turn.REPEATED, Turn.NEXT]


def test_an_unknown_kind_takes_its_turn():
    first, unknown, last = NumberedLines().feed(edge(1) + raw_line(2, "juggle", "3") + edge(3))
    assert isinstance(unknown, Heard)
    assert unknown.message is None
    assert unknown.line.kind == "juggle"
    assert isinstance(last, Heard)
    assert [first.turn, last.turn] == [Turn.FIRST, Turn.NEXT]  # type: ignore[union-attr]


def test_counts_add_up():
    data = b"".join(edge(n) for n in (0, 1, 4, 5, 9)) + damaged(edge(10)) + edge(11)
    numbers, gaps, lines = read(data)
    counts = lines.counts
    assert counts.good == len(numbers)
    assert counts.damaged + counts.missing == sum(b - a - 1 for a, b in pairwise(numbers))
    assert counts.damaged == sum(gap.damaged for gap in gaps) == 1
