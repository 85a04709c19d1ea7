"""Beam logs as they should be: every form that the contract allows."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.codes import Code
from viscount.devices.beams.log import BeamLog
from viscount.devices.beams.rows import nanoseconds
from viscount.values import Edge, Level

PLAIN = "time_s,blocked\n0.000000,0\n0.010000,1\n0.015333,0\n# end 0.100000\n"


def read(folder: Path, text: str | bytes) -> tuple[BeamLog, list[Edge]]:
    file = folder / "beam.csv"
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    log = BeamLog(file)
    return log, list(log.edges())


def test_a_plain_log(tmp_path: Path):
    log, edges = read(tmp_path, PLAIN)
    assert [(e.device_t_ns, e.blocked, e.seq, e.boot) for e in edges] == [
        (0, False, None, None),
        (10_000_000, True, None, None),
        (15_333_000, False, None, None),
    ]
    assert (log.end_device_t_ns, log.rows, log.decimals, log.tick_ns) == (100_000_000, 3, 6, 1000)
    assert log.notices == ()


@pytest.mark.parametrize(
    ("header", "row", "seq", "boot"),
    [
        ("time_s,blocked,seq,boot", "1.000000,1,40,2", 40, 2),
        ("time_s,blocked,boot,seq", "1.000000,1,2,40", 40, 2),
        ("time_s,blocked,seq", "1.000000,1,40", 40, None),
        ("time_s,blocked,boot", "1.000000,1,2", None, 2),
        (" time_s , blocked , seq ", " 1.000000 , 1 , 40 ", 40, None),
    ],
)
def test_numbers_and_boots(tmp_path: Path, header: str, row: str, seq: int, boot: int):
    _, (edge,) = read(tmp_path, f"{header}\n{row}\n")
    assert edge == Edge(device_t_ns=10**9, blocked=True, seq=seq, boot=boot)


@pytest.mark.parametrize(
    "dressed",
    [
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace("\n", "\r"),
        b"\xef\xbb\xbf" + PLAIN.encode(),
        "# board 3\n\n" + PLAIN.replace("0.010000", "# a remark\n\n   # another\n0.010000"),
        PLAIN.encode() + b"# 20 \xb0C\n",
        PLAIN + "# end\n# end of file\n",
        PLAIN.replace("# end 0.100000", "#END 0.1"),
    ],
    ids=["crlf", "cr", "bom", "remarks", "latin remark", "remarks behind the end", "short end"],
)
def test_the_same_log_in_other_clothes(tmp_path: Path, dressed: str | bytes):
    plain, expected = read(tmp_path, PLAIN)
    log, edges = read(tmp_path, dressed)
    assert edges == expected
    assert (log.end_device_t_ns, log.notices) == (plain.end_device_t_ns, ())


def test_a_log_without_an_end(tmp_path: Path):
    log, edges = read(tmp_path, PLAIN.replace("# end 0.100000\n", "# end of test\n"))
    assert len(edges) == 3
    assert log.end_device_t_ns is None


def test_a_log_can_be_read_twice(tmp_path: Path):
    log, edges = read(tmp_path, PLAIN)
    assert list(log.edges()) == edges
    assert log.rows == 3


@given(t_ns=st.integers(0, 2**63 - 1), decimals=st.integers(9, 15))
def test_times_are_exact(t_ns: int, decimals: int):
    whole, part = divmod(t_ns, 10**9)
    written = f"{part:09d}".ljust(decimals, "7")
    assert nanoseconds(str(whole), written) == t_ns


@given(t_us=st.integers(0, 2**53))
def test_microseconds_are_exact(t_us: int):
    whole, part = divmod(t_us, 10**6)
    assert nanoseconds(str(whole), f"{part:06d}") == t_us * 1000
    assert nanoseconds(str(whole), f"{part:06d}".rstrip("0")) == t_us * 1000
    assert nanoseconds(str(whole), None) == whole * 10**9


@pytest.mark.parametrize(
    ("decimals", "level", "step"),
    [(0, Level.DOUBT, "1000 ms"), (3, Level.DOUBT, "1 ms"), (5, Level.INFO, "10 us")],
)
def test_coarse_times_are_said(tmp_path: Path, decimals: int, level: Level, step: str):
    rows = "".join(f"{k / 100:.{decimals}f},{k % 2}\n" for k in range(200))
    log, edges = read(tmp_path, "time_s,blocked\n" + rows)
    assert len(edges) == 200
    (notice,) = log.notices
    assert (notice.code, notice.level) == (Code.BEAM_TIMES_COARSE, level)
    assert step in notice.text
    assert notice.where == str(log.path)


def test_a_writer_that_leaves_noughts_out_is_not_coarse(tmp_path: Path):
    log, _ = read(tmp_path, "time_s,blocked\n0.5,0\n0.75,1\n0.765432,0\n")
    assert log.notices == ()
