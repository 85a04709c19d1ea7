from dataclasses import replace

import pytest
from boards import MS, UNTIRING, Joined, raw_line, written

from viscount.codes import Code
from viscount.devices.protocol.asked import MOST, Asked, Outcome
from viscount.devices.protocol.fields import Has
from viscount.devices.protocol.line import Line, read_body, write_line
from viscount.devices.protocol.link import HostLink
from viscount.devices.protocol.messages import (
    EdgeSeen,
    FaultTold,
    Greet,
    Hello,
    Lamp,
    Limits,
    No,
    Ok,
    Open,
    Opened,
    Over,
    Ready,
    Renew,
    Shut,
    Tell,
    Total,
)
from viscount.devices.protocol.words import Cause, FaultReason, Refusal, State
from viscount.errors import UsageError
from viscount.values import Edge, Level

HELLO = Hello(
    version=1, name="a", firmware="1", tick_ns=1000, has=Has(), t_us=70, edges=4, blocked=False
)
BAG = Ready(count=3, early=0, delay_us=4000, on_ms=900, expiry_ms=900)


def answered(*, boot: int = 1, hello: Hello = HELLO) -> tuple[HostLink, bytes]:
    """A link that a board has answered, and what it then says goes on with line 2."""
    link = HostLink(0)
    assert link.turn(0).to_send == b"^0 0 greet 90DF\n"
    said = written(Ok(line=0, t_us=60), 0, boot) + written(hello, 1, boot)
    return link, said


def linked(*, boot: int = 1, hello: Hello = HELLO) -> HostLink:
    link, said = answered(boot=boot, hello=hello)
    link.hear(MS, said)
    assert link.linked
    return link


def for_boot(said: bytes, boot: int) -> bytes:
    """The same line from another run of the board."""
    line = read_body(said[1:-1])
    assert isinstance(line, Line)
    return write_line(replace(line, boot=boot))


def test_it_greets_at_once_and_is_linked_by_the_hello():
    link, said = answered()
    assert not link.linked
    report = link.hear(MS, said)
    assert link.linked
    assert report.messages == [HELLO]
    assert report.edges == [Edge(device_t_ns=70_000, blocked=False, seq=4, boot=0)]
    assert report.notices == []


def test_it_greets_again_until_it_is_answered():
    link = HostLink(0)
    sent = [link.turn(ms * MS).to_send for ms in range(1200)]
    assert [ms for ms, one in enumerate(sent) if one] == [0, 500, 1000]


def test_a_hello_without_an_answer_is_a_reset_and_greeted_soon():
    link = HostLink(0)
    link.turn(0)
    link.hear(30 * MS, written(HELLO, 0))
    assert not link.linked
    assert link.due_ns == 100 * MS
    assert link.turn(100 * MS).to_send == written(Greet(), 1, 0)


def test_an_answer_to_an_older_greeting_links_nothing():
    link = HostLink(0)
    link.turn(0)
    link.turn(500 * MS)
    link.hear(501 * MS, written(Ok(line=0, t_us=1), 0) + written(HELLO, 1))
    assert not link.linked


def test_a_greeting_that_is_refused_links_nothing():
    link = HostLink(0)
    link.turn(0)
    link.hear(MS, written(No(line=0, t_us=1, reason=Refusal.NUMBER), 0) + written(HELLO, 1))
    assert not link.linked


def test_a_restart_between_the_answer_and_the_hello_links_nothing():
    link = HostLink(0)
    link.turn(0)
    link.hear(MS, written(Ok(line=0, t_us=60), 4, 1) + written(HELLO, 0, 2))
    assert not link.linked
    assert link.turn(100 * MS).to_send == written(Greet(), 1, 0)


def test_what_was_said_before_the_link_is_no_edge_and_no_gap():
    link, said = answered()
    early = b"dge 3 30 1 1234\n" + written(EdgeSeen(seq=3, t_us=1, blocked=True), 90, 5)
    report = link.hear(0, early + written(EdgeSeen(seq=4, t_us=2, blocked=False), 93, 5))
    assert (report.edges, report.notices) == ([], [])
    report = link.hear(MS, said)
    assert [edge.seq for edge in report.edges] == [4]
    assert report.notices == []


def test_nothing_can_be_asked_before_the_link():
    link = HostLink(0, where="ttyX")
    for ask in (lambda: link.ask(0, Open()), lambda: link.hold(0)):
        with pytest.raises(UsageError, match=r"^ttyX: .* has not answered the greeting; wait"):
            ask()


def test_a_greeting_cannot_be_asked_for():
    with pytest.raises(UsageError, match="greets by itself"):
        linked().ask(MS, Greet())


def test_lines_bear_the_board_s_boot_and_their_own_numbers():
    link = linked(boot=77)
    assert link.ask(2 * MS, Lamp(permille=500)) == 1
    assert link.ask(2 * MS, Tell()) == 2
    sent = link.turn(2 * MS).to_send
    assert sent == written(Lamp(permille=500), 1, 77) + written(Tell(), 2, 77)
    assert link.turn(3 * MS).to_send == b""


def test_a_value_out_of_range_is_told_and_nothing_is_sent():
    link = linked()
    with pytest.raises(UsageError, match="lamp: permille: 1001; allowed: 0 to 1000"):
        link.ask(2 * MS, Lamp(permille=1001))
    assert link.turn(2 * MS).to_send == b""
    assert link.ask(2 * MS, Tell()) == 1


def test_the_lease_is_renewed_every_50_ms_while_it_is_held():
    link = linked()
    link.hold(2 * MS)
    sent = [ms for ms in range(2, 203) if link.turn(ms * MS).to_send]
    assert sent == [2, 52, 102, 152, 202]
    link.release()
    assert not any(link.turn(ms * MS).to_send for ms in range(203, 400))


def test_renewals_that_are_late_are_not_made_good_by_a_burst():
    link = linked()
    link.hold(2 * MS)
    assert link.turn(2 * MS).to_send.count(b"renew") == 1
    assert link.turn(400 * MS).to_send.count(b"renew") == 1
    assert link.due_ns is not None
    assert [ms for ms in range(401, 452) if link.turn(ms * MS).to_send] == [450]


def test_due_says_when_to_call():
    link = linked()
    assert link.due_ns == MS + 1000 * MS + 1
    link.hold(2 * MS)
    assert link.due_ns == 52 * MS
    link.release()
    assert link.due_ns == (2 + 500) * MS


def test_answers_are_matched_with_both_clocks():
    link = linked()
    number = link.ask(2 * MS, Lamp(permille=3))
    link.turn(2 * MS)
    (answer,) = link.hear(5 * MS, written(Ok(line=number, t_us=900), 2)).answers
    assert (answer.number, answer.message, answer.outcome) == (1, Lamp(permille=3), Outcome.DONE)
    assert (answer.sent_ns, answer.heard_ns, answer.t_us) == (2 * MS, 5 * MS, 900)
    assert link.hear(6 * MS, written(Ok(line=number, t_us=900), 3)).answers == []


def test_a_refusal_is_told_with_its_reason():
    link = linked()
    number = link.ask(2 * MS, Open())
    report = link.hear(5 * MS, written(No(line=number, t_us=9, reason=Refusal.LEASE), 2))
    (answer,) = report.answers
    assert (answer.outcome, answer.refusal) == (Outcome.REFUSED, Refusal.LEASE)
    (notice,) = report.notices
    assert (notice.level, notice.code) == (Level.INFO, Code.BOARD_REFUSED)
    assert notice.text == "the board refused 'open' (line 1): lease"
    assert link.linked


def test_a_wrong_number_loses_the_link_and_greets_anew():
    link = linked()
    link.hold(2 * MS)
    number = link.ask(2 * MS, Open())
    link.turn(2 * MS)
    report = link.hear(5 * MS, written(No(line=number, t_us=9, reason=Refusal.NUMBER), 2))
    assert (link.linked, link.holding) == (False, False)
    assert [a.outcome for a in report.answers] == [Outcome.REFUSED, Outcome.UNANSWERED]
    assert link.turn(5 * MS).to_send == written(Greet(), 3, 0)


def test_a_line_without_an_answer_is_told_once():
    link = linked()
    link.ask(2 * MS, Tell())
    reports = [link.turn(ms * MS) for ms in range(2, 900)]
    (answer,) = [a for report in reports for a in report.answers]
    assert (answer.outcome, answer.heard_ns) == (Outcome.UNANSWERED, 502 * MS)
    (notice,) = [n for report in reports for n in report.notices]
    assert (notice.code, notice.text) == (
        Code.BOARD_UNANSWERED,
        "the board did not answer 'tell' (line 1)",
    )


def test_no_more_lines_wait_than_allowed():
    asked = Asked()
    given_up = [one for n in range(MOST + 3) for one in asked.put(n, Renew(), n)]
    assert [one.number for one in given_up] == [0, 1, 2]
    assert asked.oldest_ns == 3


def test_a_silent_board_is_told_once_until_it_speaks():
    link = linked()
    told = [ms for ms in range(1, 3000) if link.turn(ms * MS).notices]
    assert told == [1002]
    link.hear(3000 * MS, written(HELLO, 2))
    (notice,) = [n for ms in range(3000, 4100) for n in link.turn(ms * MS).notices]
    assert (notice.level, notice.code) == (Level.DOUBT, Code.BOARD_SILENT)
    assert notice.text == "no good line for 1001 ms"


def test_noise_is_no_sign_of_life():
    link = linked()
    told = []
    for ms in range(1, 1500):
        link.hear(ms * MS, b"\x55" * 20)
        told += link.turn(ms * MS).notices
    assert [notice.code for notice in told] == [Code.BOARD_SILENT]


def test_a_board_that_never_speaks_is_silent():
    link = HostLink(0, where="ttyX")
    told = [n for ms in range(1500) for n in link.turn(ms * MS).notices]
    assert [(n.code, n.where) for n in told] == [(Code.BOARD_SILENT, "ttyX")]


def test_a_fault_is_told():
    report = linked().hear(2 * MS, written(FaultTold(t_us=9, reason=FaultReason.LEASE), 2))
    (notice,) = report.notices
    assert (notice.level, notice.code) == (Level.DOUBT, Code.BOARD_FAULT)
    assert notice.text == "the gate's board met a fault: lease"


def test_another_version_is_told_and_left_alone():
    for said in (
        written(replace(HELLO, version=2), 1),
        raw_line(1, "hello", "2", "and", "other", "fields"),
    ):
        link, _ = answered()
        report = link.hear(MS, written(Ok(line=0, t_us=1), 0) + said)
        (notice,) = report.notices
        assert (notice.level, notice.code) == (Level.INVALID, Code.BOARD_OTHER_VERSION)
        assert "version 2" in notice.text
        assert not link.linked
        assert not any(link.turn(ms * MS).to_send for ms in range(1, 3000))
        assert link.due_ns is None


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (raw_line(2, "juggle", "3"), "a line of unknown kind 'juggle'"),
        (raw_line(2, "edge", "3"), "a line 'edge' with fields ('3',)"),
        (written(Renew(), 2), "a line 'renew' that only a host sends: an echo"),
        (written(HELLO, 1), "line 1 came twice"),
        (
            written(EdgeSeen(seq=5, t_us=9, blocked=False), 2),
            "'edge' says clear after edge 5, where the beam cannot be",
        ),
        (
            written(Total(t_us=9, edges=4, pulses=2, lost=0, blocked=True), 2),
            "'total' says blocked after edge 4, where the beam cannot be",
        ),
    ],
)
def test_lines_that_break_the_rules_are_told(said: bytes, words: str):
    (notice,) = linked().hear(2 * MS, said).notices
    assert (notice.level, notice.code, notice.text) == (
        Level.DOUBT,
        Code.BOARD_CONTRADICTS,
        words,
    )


def test_a_repeated_edge_is_no_second_one():
    link = linked()
    edge = written(EdgeSeen(seq=5, t_us=9, blocked=True), 2)
    assert len(link.hear(2 * MS, edge + edge).edges) == 1
    assert link.book.edges == 1


@pytest.mark.parametrize(
    "said",
    [
        written(HELLO, 2),
        written(EdgeSeen(seq=5, t_us=9, blocked=True), 2),
        written(Total(t_us=9, edges=5, pulses=3, lost=0, blocked=True), 2),
    ],
)
def test_a_restart_is_seen_by_the_boot_of_any_line(said: bytes):
    link = linked(boot=1)
    link.hold(2 * MS)
    report = link.hear(3 * MS, for_boot(said, 2))
    assert Code.BOARD_RESTARTED in [notice.code for notice in report.notices]
    assert (link.linked, link.holding) == (False, False)
    assert link.book.boot == 1


def test_counts_that_make_no_sense_after_a_restart_are_told_and_left_out():
    link = linked()
    said = written(EdgeSeen(seq=2**31 + 7, t_us=9, blocked=True), 0, 2)
    codes = [notice.code for notice in link.hear(2 * MS, said).notices]
    assert codes[-1] is Code.BOARD_CONTRADICTS
    assert link.book.edges == 0


def test_a_bag_is_packed_through_a_simulated_board():
    both = Joined().run(5)
    assert both.link.linked
    assert both.link.limits == both.of(Limits)[-1]
    both.link.hold(both.now_ns)
    both.link.ask(both.now_ns, BAG)
    both.link.ask(both.now_ns, Open())
    both.parts(5, every_ms=20, after_ms=2)
    both.run(300)
    assert [a.outcome for a in both.answers] == [Outcome.DONE] * len(both.answers)
    assert len(both.of(Opened)) == 1
    (over,) = both.of(Over)
    assert (over.cause, over.count) == (Cause.COUNT, 3)
    on, off = both.board.coil_log
    # The first head comes 2 ms after the asking, the third 40 ms later, and 4 ms is the delay.
    assert off.t_ns == (5 + 2 + 40 + 4) * MS
    assert on.on
    assert [edge.seq for edge in both.edges] == list(range(11))
    assert (both.link.book.edges, both.link.book.pulses) == (10, 5)
    assert both.notices == []


def test_a_host_that_stops_turning_shuts_the_gate_by_its_silence():
    both = Joined().run(5)
    both.link.hold(both.now_ns)
    both.link.ask(both.now_ns, BAG)
    both.link.ask(both.now_ns, Open())
    both.run(10)
    both.board.step(both.now_ns + 400 * MS)
    assert both.board.coil_log[-1].t_ns == (6 + 250) * MS
    assert both.board.state is State.FAULT


def test_shut_then_release_is_no_fault():
    both = Joined().run(5)
    both.link.hold(both.now_ns)
    both.link.ask(both.now_ns, BAG)
    both.link.ask(both.now_ns, Open())
    both.run(100)
    both.link.ask(both.now_ns, Shut())
    both.link.release()
    both.run(500)
    assert both.board.state is State.IDLE
    assert both.codes() == []


def test_a_reset_of_the_board_is_greeted_and_linked_again():
    both = Joined(replace(UNTIRING, starts_ms=40)).run(150)
    assert both.link.linked
    both.board.reset(both.now_ns + 3 * MS)
    both.run(200)
    assert both.codes() == [Code.BOARD_RESTARTED]
    assert both.link.linked
    assert [(e.boot, e.seq) for e in both.edges] == [(0, 0), (1, 0)]


def test_a_restart_gives_a_row_only_where_no_edge_was_missed():
    for edges, rows in ((0, [(1, 0)]), (4, [])):
        report = linked().hear(2 * MS, written(replace(HELLO, edges=edges), 0, 2))
        assert [(edge.boot, edge.seq) for edge in report.edges] == rows
        assert [n.code for n in report.notices] == (
            [Code.BOARD_RESTARTED] + [Code.BEAM_EDGES_LOST] * (edges > 0)
        )
