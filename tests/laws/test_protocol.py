"""What must hold on the line to a board, whatever comes over it."""

from dataclasses import replace
from itertools import pairwise

from boards import MS, UNTIRING, raw_line, written
from hypothesis import example, given, settings
from hypothesis import strategies as st
from protocol_lines import NOISE, lines, messages

from viscount.devices.protocol.fields import U16, U32, Has
from viscount.devices.protocol.line import (
    LONGEST,
    NUMBERS,
    Flaw,
    Line,
    ahead,
    read_body,
    write_line,
)
from viscount.devices.protocol.link import HostLink
from viscount.devices.protocol.messages import (
    LEASE_MS,
    EdgeSeen,
    Hello,
    Message,
    Ok,
    from_line,
    to_line,
)
from viscount.devices.protocol.numbered import Gap, Heard, NumberedLines
from viscount.devices.protocol.stream import LineStream
from viscount.testing.board import SimulatedBoard

QUICK = settings(max_examples=40, deadline=None, derandomize=True)
MANY = settings(max_examples=100, deadline=None, derandomize=True)
LEASE_NS = LEASE_MS * MS

TRAFFIC = st.lists(lines() | NOISE, max_size=12).map(b"".join)


@st.composite
def cuts(draw: st.DrawFn, data: bytes) -> list[bytes]:
    places = draw(st.lists(st.integers(0, len(data)), max_size=20).map(sorted))
    return [data[a:b] for a, b in pairwise([0, *places, len(data)])]


@MANY
@given(message=messages(), number=st.integers(0, U16), boot=st.integers(0, U16))
def test_what_is_written_is_read(message: Message, number: int, boot: int):
    written_line = write_line(to_line(message, number=number, boot=boot))
    assert len(written_line) <= LONGEST
    (line,) = LineStream().feed(written_line)
    assert isinstance(line, Line)
    assert (line.number, line.boot, from_line(line)) == (number, boot, message)


@MANY
@given(data=st.data(), traffic=TRAFFIC)
def test_pieces_of_any_size_say_the_same(data: st.DataObject, traffic: bytes):
    whole, pieces = NumberedLines(), NumberedLines()
    found = whole.feed(traffic)
    assert [one for piece in data.draw(cuts(traffic)) for one in pieces.feed(piece)] == found
    assert pieces.counts == whole.counts
    assert pieces.stray_bytes == whole.stray_bytes
    assert pieces.held_bytes == whole.held_bytes < LONGEST


@MANY
@given(traffic=TRAFFIC)
def test_any_bytes_are_taken_and_little_is_kept(traffic: bytes):
    stream, link, board = LineStream(), HostLink(0), SimulatedBoard(UNTIRING)
    link.turn(0)
    for i, at in enumerate(range(0, len(traffic), 7)):
        piece = traffic[at : at + 7]
        stream.feed(piece)
        link.hear(i * MS, piece)
        board.step(i * MS, piece)
        assert stream.held_bytes < LONGEST


@QUICK
@given(line=lines())
def test_every_flipped_bit_is_caught(line: bytes):
    follower = write_line(Line(number=1, boot=1, kind="tell"))
    right = LineStream().feed(line + follower)
    assert not any(isinstance(one, Flaw) for one in right)
    for bit in range(8 * len(line)):
        hurt = bytearray(line)
        hurt[bit // 8] ^= 1 << bit % 8
        found = LineStream().feed(bytes(hurt) + follower)
        assert [one for one in found if isinstance(one, Line)] == right[1:]


@QUICK
@given(line=lines())
def test_every_changed_digit_is_caught(line: bytes):
    digits = [i for i, byte in enumerate(line) if byte in b"0123456789"]
    for i in digits:
        for digit in set(b"0123456789") - {line[i]}:
            hurt = line[:i] + bytes([digit]) + line[i + 1 :]
            assert LineStream().feed(hurt) == [Flaw.CHECKSUM]


@QUICK
@given(line=lines(), data=st.data())
def test_damage_within_16_bits_is_caught_in_the_body(line: bytes, data: st.DataObject):
    at = data.draw(st.integers(1, len(line) - 8))
    hurt = bytes(
        [data.draw(st.sampled_from(b"0123456789abcdefghijklmnopqrstuvwxyz.- ")) for _ in "12"]
    )
    changed = line[:at] + hurt + line[at + 2 :]
    if changed != line:
        assert not any(isinstance(one, Line) for one in LineStream().feed(changed))


@MANY
@given(data=st.data(), numbers=st.integers(0, U16), count=st.integers(2, 30))
def test_one_damaged_byte_costs_one_line_at_most(data: st.DataObject, numbers: int, count: int):
    made = [
        written(EdgeSeen(seq=i, t_us=i, blocked=i % 2 == 1), (numbers + i) % NUMBERS)
        for i in range(count)
    ]
    stream = b"".join(made)
    at = data.draw(st.integers(0, len(stream) - 1))
    byte = data.draw(st.binary(max_size=2))
    found = LineStream().feed(stream[:at] + byte + stream[at + 1 :])
    assert sum(isinstance(one, Line) for one in found) >= count - 1


@MANY
@given(
    first=st.integers(0, U16),
    fates=st.lists(st.sampled_from(["good", "damaged", "lost"]), min_size=1, max_size=40),
)
@example(first=65530, fates=["damaged", "lost"] * 6)
def test_lines_that_did_not_come_are_told_exactly(first: int, fates: list[str]):
    fates = ["good", *fates, "good"]
    stream = b""
    for i, fate in enumerate(fates):
        line = raw_line((first + i) % NUMBERS, "tell")
        if fate == "damaged":
            line = line.replace(b"tell", b"telk")
        stream += b"" if fate == "lost" else line
    reader = NumberedLines()
    found = reader.feed(stream)
    counts = reader.counts
    told = (counts.good, counts.damaged, counts.missing)
    assert told == tuple(fates.count(fate) for fate in ("good", "damaged", "lost"))
    gaps = [one for one in found if isinstance(one, Gap)]
    lost = {(first + i) % NUMBERS for i, fate in enumerate(fates) if fate != "good"}
    spread = [
        (gap.first + i) % NUMBERS for gap in gaps for i in range(ahead(gap.last, gap.first) + 1)
    ]
    assert sorted(spread) == sorted(lost)
    assert sum(isinstance(one, Heard) for one in found) == counts.good


@MANY
@given(data=st.data(), came=st.lists(st.booleans(), max_size=40), base=st.integers(0, U32))
def test_the_account_of_edges_is_exact_whatever_is_lost(
    data: st.DataObject, came: list[bool], base: int
):
    blocked = data.draw(st.booleans())
    link = HostLink(0)
    link.turn(0)
    start = Hello(
        version=1,
        name="a",
        firmware="1",
        tick_ns=1,
        has=Has(),
        t_us=0,
        edges=base,
        blocked=blocked,
    )
    link.hear(0, written(Ok(line=0, t_us=0), 0) + written(start, 1))
    levels = [blocked ^ (i % 2 == 0) for i in range(len(came))]
    codes = []
    for i, arrived in enumerate(came):
        edge = EdgeSeen(seq=(base + i + 1) % 2**32, t_us=i, blocked=levels[i])
        if arrived:
            codes += link.hear(i, written(edge, 2 + i)).notices
    end = replace(start, edges=(base + len(came)) % 2**32, blocked=[blocked, *levels][-1])
    codes += link.hear(99, written(end, 2 + len(came))).notices
    book = link.book
    assert (book.came, book.edges, book.pulses) == (sum(came), len(came), sum(levels))
    assert (book.lost > 0) is any("edge" in notice.code.code for notice in codes)


@MANY
@given(body=st.binary(max_size=100))
def test_whatever_is_read_as_a_line_is_written_the_same(body: bytes):
    line = read_body(body)
    assert isinstance(line, Flaw) or write_line(line) == b"^" + body + b"\n"
