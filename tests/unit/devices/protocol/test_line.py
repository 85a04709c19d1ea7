import pytest

from viscount.devices.protocol.line import (
    LONGEST,
    LONGEST_BODY,
    Flaw,
    Line,
    ahead,
    checksum,
    number_after,
    read_body,
    write_line,
)
from viscount.errors import UsageError

LINE = Line(number=10, boot=7, kind="edge", fields=("5", "2101250", "1"))
WRITTEN = b"^10 7 edge 5 2101250 1 545B\n"


def bitwise(data: bytes) -> int:
    """The CRC bit by bit, as the page's C has it."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1 ^ 0x1021 if crc & 0x8000 else crc << 1) & 0xFFFF
    return crc


def test_checksum_is_the_published_one():
    # CRC-16/IBM-3740: check value as listed in the catalogue of parametrised CRC algorithms
    # (from memory), and as the standard library's documentation of crc_hqx describes it.
    assert checksum(b"123456789") == 0x29B1


@pytest.mark.parametrize("data", [b"", b"\0", b"^", b"0 0 greet", bytes(range(256))])
def test_checksum_agrees_with_one_computed_bit_by_bit(data: bytes):
    assert checksum(data) == bitwise(data)


def test_a_line_is_written_and_read():
    assert write_line(LINE) == WRITTEN
    assert read_body(WRITTEN[1:-1]) == LINE


def test_a_line_without_fields_is_written_and_read():
    line = Line(number=0, boot=0, kind="greet")
    assert write_line(line) == b"^0 0 greet 90DF\n"
    assert read_body(b"0 0 greet 90DF") == line


@pytest.mark.parametrize(
    "line",
    [
        Line(number=65536, boot=0, kind="greet"),
        Line(number=-1, boot=0, kind="greet"),
        Line(number=0, boot=65536, kind="greet"),
        Line(number=0, boot=0, kind="Greet"),
        Line(number=0, boot=0, kind=""),
        Line(number=0, boot=0, kind="greet", fields=("",)),
        Line(number=0, boot=0, kind="greet", fields=("a b",)),
        Line(number=0, boot=0, kind="greet", fields=("é",)),
        Line(number=0, boot=0, kind="greet", fields=("x" * LONGEST,)),
        Line(number=0, boot=0, kind="greet", fields=("-1",)),
    ],
)
def test_what_is_no_line_is_not_written(line: Line):
    with pytest.raises(UsageError, match="allowed: "):
        write_line(line)


def with_checksum(body: bytes) -> bytes:
    return b"%s %04X" % (body, bitwise(body))


@pytest.mark.parametrize(
    ("raw", "flaw"),
    [
        (b"", Flaw.CHECKSUM),
        (b"0 0 greet", Flaw.CHECKSUM),
        (b"0 0 greet 90DE", Flaw.CHECKSUM),
        (b"0 0 greet 90df", Flaw.CHECKSUM),
        (b"0 0 greet 090DF", Flaw.CHECKSUM),
        (b"0 0 greet  90DF", Flaw.CHECKSUM),
        (b"0 0 greet 90DF ", Flaw.CHECKSUM),
        (b"0 0 greet 90DF\r", Flaw.FOREIGN_BYTE),
        (b"0 0 gr\xffet 90DF", Flaw.FOREIGN_BYTE),
        (with_checksum(b""), Flaw.FORM),
        (with_checksum(b"0 0"), Flaw.FORM),
        (with_checksum(b"0 greet"), Flaw.FORM),
        (with_checksum(b"00 0 greet"), Flaw.FORM),
        (with_checksum(b"0 01 greet"), Flaw.FORM),
        (with_checksum(b"65536 0 greet"), Flaw.FORM),
        (with_checksum(b"0 65536 greet"), Flaw.FORM),
        (with_checksum(b"123456 0 greet"), Flaw.FORM),
        (with_checksum(b"0 0 greet -1"), Flaw.FORM),
        (with_checksum(b"0 0 greet A"), Flaw.FORM),
        (with_checksum(b"0 0  greet"), Flaw.FORM),
        (with_checksum(b" 0 0 greet"), Flaw.FORM),
        (b"0 0 greet " + b"x" * LONGEST_BODY, Flaw.TOO_LONG),
    ],
)
def test_what_is_no_line_is_told_with_its_flaw(raw: bytes, flaw: Flaw):
    assert read_body(raw) is flaw


def test_a_line_may_be_as_long_as_allowed_and_no_longer():
    body = b"0 0 greet " + b"x" * (LONGEST_BODY - len(b"0 0 greet  0000"))
    assert isinstance(read_body(with_checksum(body)), Line)
    assert read_body(with_checksum(body + b"x")) is Flaw.TOO_LONG


def test_numbers_wrap():
    assert number_after(65534) == 65535
    assert number_after(65535) == 0
    assert ahead(2, 65535) == 3
    assert ahead(65535, 2) == 65533
