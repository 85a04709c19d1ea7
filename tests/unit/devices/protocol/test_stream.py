import pytest

from viscount.devices.protocol.line import LONGEST, Flaw, Line
from viscount.devices.protocol.stream import LineStream

GREET = b"^0 0 greet 90DF\n"
OPEN = b"^3 7 open 129B\n"
GREETED = Line(number=0, boot=0, kind="greet")
OPENED = Line(number=3, boot=7, kind="open")


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (GREET + OPEN, [GREETED, OPENED]),
        (b"\n\n" + GREET + b"\n" + OPEN, [GREETED, OPENED]),
        (b"\xff\xff" + GREET, [GREETED]),
        (b"0 greet 90DF\n" + OPEN, [Flaw.NO_START, OPENED]),
        (GREET[:-1] + OPEN, [Flaw.NO_END, OPENED]),
        (b"^0 0 gr" + OPEN, [Flaw.NO_END, OPENED]),
        (b"^" + GREET, [Flaw.NO_END, GREETED]),
        (b"^0 0 gr\neet 90DF\n" + OPEN, [Flaw.CHECKSUM, Flaw.NO_START, OPENED]),
        (b"^" + b"1" * LONGEST + b"\n" + OPEN, [Flaw.TOO_LONG, OPENED]),
        (b"^" + b"1" * 10 * LONGEST + OPEN, [Flaw.NO_END, OPENED]),
        (GREET.replace(b"\n", b"\r\n") + OPEN, [Flaw.FOREIGN_BYTE, OPENED]),
        (GREET[:-1], []),
        (b"", []),
    ],
)
def test_lines_are_found_however_the_bytes_are_cut(data: bytes, found: list):
    whole, single = LineStream(), LineStream()
    assert whole.feed(data) == found
    assert [one for byte in data for one in single.feed(bytes([byte]))] == found
    assert whole.stray_bytes == single.stray_bytes


def test_bytes_between_lines_are_counted():
    stream = LineStream()
    stream.feed(b"\xff\xff" + GREET + b"ab\n" + GREET)
    assert stream.stray_bytes == 4


def test_a_line_without_end_takes_no_memory():
    stream = LineStream()
    for data in (b"^", *[b"1" * 1000] * 100, *[b"\xff" * 1000] * 100):
        stream.feed(data)
        assert stream.held_bytes < LONGEST
    assert stream.feed(b"\n" + GREET) == [Flaw.TOO_LONG, GREETED]
    for _ in range(100):
        stream.feed(b"\xff" * 1000)
        assert stream.held_bytes < LONGEST
    assert stream.feed(GREET) == [GREETED]
