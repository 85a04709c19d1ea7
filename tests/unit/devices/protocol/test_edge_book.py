import pytest

from viscount.devices.protocol.edge_book import BeganAnewError, EdgeBook, EdgesLost
from viscount.devices.protocol.fields import Has
from viscount.devices.protocol.messages import EdgeSeen, Hello, Total
from viscount.values import Edge


def hello(edges: int = 0, *, blocked: bool = False) -> Hello:
    return Hello(
        version=1,
        name="a",
        firmware="1",
        tick_ns=1000,
        has=Has(),
        t_us=70,
        edges=edges,
        blocked=blocked,
    )


def edge(seq: int, blocked: bool | None = None) -> EdgeSeen:
    return EdgeSeen(seq=seq, t_us=seq * 10, blocked=seq % 2 == 1 if blocked is None else blocked)


def total(edges: int, *, lost: int = 0, blocked: bool | None = None, pulses: int | None = None):
    return Total(
        t_us=0,
        edges=edges,
        pulses=(edges + 1) // 2 if pulses is None else pulses,
        lost=lost,
        blocked=edges % 2 == 1 if blocked is None else blocked,
    )


def opened(edges: int = 0) -> EdgeBook:
    book = EdgeBook()
    book.begin(hello(edges, blocked=edges % 2 == 1))
    return book


def test_the_first_row_is_the_level_at_the_hello():
    book = EdgeBook()
    assert not book.open
    assert book.begin(hello(6)) == Edge(device_t_ns=70_000, blocked=False, seq=6, boot=0)
    assert book.open
    assert (book.edges, book.pulses) == (0, 0)


def test_edges_are_handed_on_with_the_board_s_own_time_and_number():
    book = opened(6)
    assert book.edge(edge(7)) == (Edge(device_t_ns=70_000, blocked=True, seq=7, boot=0), None)
    assert (book.edges, book.pulses, book.lost) == (1, 1, 0)


def test_edges_that_were_jumped_over_are_lost_and_their_pulses_counted():
    book = opened()
    _, lost = book.edge(edge(25))
    assert lost == EdgesLost(last=24, count=24)
    assert str(lost) == "24 edges lost (numbers 1 to 24)"
    assert (book.came, book.lost, book.edges, book.pulses) == (1, 24, 25, 13)
    _, lost = book.edge(edge(27))
    assert str(lost) == "1 edge lost (number 26)"


def test_a_total_shows_edges_lost_with_none_behind_them():
    book = opened()
    book.edge(edge(1))
    assert book.total(total(1)) is None
    assert book.total(total(4)) == EdgesLost(last=4, count=3)
    assert (book.edges, book.pulses) == (4, 2)
    assert book.edge(edge(5))[1] is None


def test_a_hello_in_the_same_boot_is_a_total_too():
    book = opened()
    assert book.total(hello(8)) == EdgesLost(last=8, count=8)
    assert book.pulses == 4


def test_what_the_queue_cost_is_told_apart_once_two_totals_came():
    book = opened()
    book.total(total(0))
    book.edge(edge(4))
    book.total(total(4, lost=2))
    assert (book.lost, book.lost_in_queue) == (3, 2)
    before = opened(100)
    before.total(total(100, lost=90))
    assert before.lost_in_queue == 0


def test_numbers_wrap():
    book = opened(2**32 - 2)
    for seq in (2**32 - 1, 0, 1):
        assert book.edge(edge(seq, blocked=seq % 2 == 1))[1] is None
    _, lost = book.edge(edge(4))
    assert lost == EdgesLost(last=3, count=2)
    assert (book.edges, book.pulses) == (6, 3)
    over = opened(2**32 - 3)
    _, lost = over.edge(edge(1))
    assert str(lost) == "3 edges lost (numbers 4294967294 to 0)"


@pytest.mark.parametrize("told", [edge(5), edge(3), total(4)])
def test_counts_that_do_not_rise_begin_anew(told: EdgeSeen | Total):
    book = opened()
    book.edge(edge(5))
    take = book.edge if isinstance(told, EdgeSeen) else book.total
    with pytest.raises(BeganAnewError):
        take(told)  # type: ignore[arg-type]
    assert (book.edges, book.pulses) == (5, 3)


def test_a_restart_counts_on_from_nothing():
    book = opened()
    book.edge(edge(1))
    book.edge(edge(2))
    book.restart()
    later, lost = book.edge(edge(1))
    assert (later.boot, later.seq, lost) == (1, 1, None)
    assert (book.edges, book.pulses) == (3, 2)


def test_a_restart_with_the_beam_blocked_turns_the_levels_round():
    book = opened()
    book.restart()
    assert book.contradiction(edge(1, blocked=False)) == ""
    book.edge(edge(1, blocked=False))
    assert book.pulses == 0
    book.edge(edge(4, blocked=True))
    assert book.pulses == 2


@pytest.mark.parametrize("told", [edge(2, blocked=True), edge(3, blocked=False), hello(7)])
def test_levels_that_do_not_alternate_are_told(told: EdgeSeen | Hello):
    book = opened()
    book.edge(edge(1))
    assert "where the beam cannot be" in book.contradiction(told)


def test_pulses_that_do_not_belong_to_the_edges_are_told():
    book = opened()
    book.total(total(0))
    assert book.contradiction(total(4, pulses=2)) == ""
    assert book.contradiction(total(4, pulses=4)) == "4 pulses in 4 edges, which make 2"


@pytest.mark.parametrize("first", [False, True])
@pytest.mark.parametrize("skipped", range(6))
def test_pulses_of_lost_edges_are_those_that_block(first: bool, skipped: int):
    levels = [first if i % 2 == 0 else not first for i in range(1, 12)]
    book = EdgeBook()
    book.begin(hello(0, blocked=first))
    seq = 1 + skipped
    book.edge(edge(seq, blocked=levels[seq - 1]))
    assert book.pulses == sum(levels[:seq])


def test_an_account_must_be_open():
    with pytest.raises(RuntimeError, match="not open"):
        EdgeBook().edge(edge(1))
