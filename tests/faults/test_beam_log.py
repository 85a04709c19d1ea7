"""Beam logs that are broken: each is refused with place, allowed and remedy, or ends in a doubt."""

from pathlib import Path

import pytest

from viscount.beam.pulses import PulseMaker
from viscount.beam.record import BeamRecord
from viscount.codes import Code
from viscount.devices.beams.log import BeamLog
from viscount.errors import ExitStatus, SourceError
from viscount.values import Level, Pulse

HEAD = "time_s,blocked,seq,boot\n"
ROWS = HEAD + "0.000000,0,0,0\n0.010000,1,1,0\n0.015333,0,2,0\n"


def written(folder: Path, text: str | bytes) -> BeamLog:
    file = folder / "beam.csv"
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    return BeamLog(file)


def made(log: BeamLog) -> tuple[list[Pulse], BeamRecord]:
    maker = PulseMaker()
    pulses = [pulse for edge in log.edges() for pulse in maker.feed(edge)]
    pulses += maker.finish(log.end_device_t_ns)
    return pulses, maker.record


@pytest.mark.parametrize(
    ("text", "line", "found", "said"),
    [
        # headers
        ("0.5,1\n0.6,0\n", 1, "'0.5,1' is no header", "begin the file with that line"),
        ("time,blocked\n", 1, "'time,blocked' is no header", "allowed: time_s,blocked"),
        ("blocked,time_s\n", 1, "is no header", "allowed: time_s,blocked"),
        ("time_s\n", 1, "is no header", "allowed: time_s,blocked"),
        ("time_s,blocked,seq,seq\n", 1, "is no header", "seq and boot"),
        ("time_s,blocked,level\n", 1, "is no header", "seq and boot"),
        ("# a\n\ntime_s;blocked\n", 3, "is no header", "separate the columns by commas"),
        ("time_s\tblocked\n", 1, "is no header", "separate the columns by commas"),
        ("time_s,blocked\n".encode("utf-16"), 1, "is no header", "save the file as UTF-8"),
        ("", 0, "without a header", "allowed: time_s,blocked"),
        ("# only remarks\n", 1, "without a header", "allowed: time_s,blocked"),
        (HEAD + "# end 3.000000\n", 2, "without a row", "the state when logging began"),
        # rows
        (ROWS + "0.02,1,3\n", 5, "3 columns in '0.02,1,3'", "4 columns, as in the header"),
        (ROWS + "0,020000,1,3,0\n", 5, "5 columns", "a point, not a comma"),
        (ROWS + "0.02s,1,3,0\n", 5, "time_s is '0.02s'", "seconds with a decimal point"),
        (ROWS + "-0.02,1,3,0\n", 5, "time_s is '-0.02'", "seconds with a decimal point"),
        (ROWS + "2e-2,1,3,0\n", 5, "time_s is '2e-2'", "seconds with a decimal point"),
        (ROWS + "nan,1,3,0\n", 5, "time_s is 'nan'", "seconds with a decimal point"),
        (ROWS + "0.\u0662,1,3,0\n", 5, "time_s is '0.\u0662'", "seconds with a decimal point"),
        (ROWS + "9999999999.5,1,3,0\n", 5, "9999999999 s", "less than 9.2e9 s"),
        (ROWS + "0.02,2,3,0\n", 5, "blocked is '2'", "0 (light) or 1 (blocked)"),
        (ROWS + "0.02,true,3,0\n", 5, "blocked is 'true'", "0 (light) or 1 (blocked)"),
        (ROWS + "0.02,1,3.0,0\n", 5, "seq is '3.0'", "a whole number, 0 or more"),
        (ROWS + "0.02,1,,0\n", 5, "seq is ''", "a whole number, 0 or more"),
        (ROWS + "0.02,1,3,-1\n", 5, "boot is '-1'", "a whole number, 0 or more"),
        (ROWS.encode() + b"0.0\xff2,1,3,0\n", 5, "time_s is '0.0\ufffd2'", "decimal point"),
        (ROWS + HEAD + "0.02,1,3,0\n", 5, "a second header", "give each log by itself"),
        (
            ROWS + "# end 0.100000\n0.2,1,3,0\n",
            6,
            "a row after the log's end",
            "give each log by itself",
        ),
        (ROWS + "x" * 500 + "\n", 5, "1 columns in '" + "x" * 60 + "...'", "4 columns"),
    ],
)
def test_what_is_no_log_is_refused(
    tmp_path: Path, text: str | bytes, line: int, found: str, said: str
):
    with pytest.raises(SourceError) as caught:
        list(written(tmp_path, text).edges())
    assert caught.value.exit_status is ExitStatus.BAD_INPUT
    assert caught.value.where == f"{tmp_path / 'beam.csv'}:{line}"
    assert found in caught.value.found
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["missing.csv", "."])
def test_a_log_that_cannot_be_opened_is_refused(tmp_path: Path, name: str):
    with pytest.raises(SourceError, match="cannot be read") as caught:
        list(BeamLog(tmp_path / name).edges())
    assert caught.value.where == str(tmp_path / name)


@pytest.mark.parametrize(
    "half",
    ["0.0", "0.020000", "0.020000,1", "0.020000,1,3", "0.020000,1,3,", "0.020000,1,30,0x", "# en"],
)
def test_a_last_line_that_the_power_cut_is_left_out(tmp_path: Path, half: str):
    log = written(tmp_path, ROWS + half)
    assert len(list(log.edges())) == 3
    assert log.end_device_t_ns is None
    cut = [notice for notice in log.notices if notice.code is Code.BEAM_LINE_CUT]
    assert len(cut) == (half[0] != "#")
    for notice in cut:
        assert notice.level is Level.INFO
        assert "line 5" in notice.text
        assert half in notice.text


@pytest.mark.parametrize(
    ("header", "last", "kept"),
    [
        ("time_s,blocked,seq,boot", "0.020000,1,3,0", True),
        ("time_s,blocked,seq,boot", "0.020000,1,3,1", False),  # 12 may have become 1
        ("time_s,blocked,boot,seq", "0.020000,1,0,3", True),
        ("time_s,blocked,boot,seq", "0.020000,1,0,4", False),  # 40 may have become 4
    ],
)
def test_a_last_row_without_its_line_end_counts_where_no_digit_can_lack(
    tmp_path: Path, header: str, last: str, kept: bool
):
    rows = ["0.000000,0,0,0", "0.010000,1,1,0", "0.015333,0,2,0"]
    if header.endswith("seq"):
        rows = [",".join([*r.split(",")[:2], r.split(",")[3], r.split(",")[2]]) for r in rows]
    log = written(tmp_path, "\n".join([header, *rows, last]))
    assert len(list(log.edges())) == 3 + kept
    assert [n.code for n in log.notices] == [Code.BEAM_LINE_CUT] * (not kept)


def test_an_end_that_the_power_cut_ends_nothing(tmp_path: Path):
    log = written(tmp_path, ROWS + "# end 0.1")
    assert len(list(log.edges())) == 3
    assert log.end_device_t_ns is None
    assert [n.code for n in log.notices] == [Code.BEAM_LINE_CUT]
    log = written(tmp_path, ROWS + "# end 0.100000")
    assert len(list(log.edges())) == 3
    assert log.end_device_t_ns == 100_000_000


def test_a_log_cut_anywhere_is_read_to_there(tmp_path: Path):
    """Whatever the power leaves of a log, its whole rows count, and no number is made up."""
    whole = ROWS + "".join(f"{0.02 + k / 100:.6f},{1 - k % 2},{k + 3},0\n" for k in range(20))
    rows = list(written(tmp_path, whole + "# end 1.000000\n").edges())
    text = whole + "# end 1.000000\n"
    for length in range(len(HEAD) + 15, len(text)):
        log = written(tmp_path, text[:length])
        edges = list(log.edges())
        assert edges == rows[: len(edges)]
        assert len(edges) >= text[:length].count("\n", len(HEAD)) - (length > len(whole))
        assert log.end_device_t_ns in (None, 10**9)
        _, record = made(log)
        ends = [n.code for n in record.notices]
        assert (Code.BEAM_END_UNKNOWN in ends) is (log.end_device_t_ns is None)


@pytest.mark.parametrize(
    ("rows", "code", "text"),
    [
        ("0.020000,1,27,0\n0.025333,0,28,0\n", Code.BEAM_EDGES_LOST, "24 edges lost, 12 times"),
        ("0.001000,1,1,1\n0.006333,0,2,1\n", Code.BEAM_RESTARTED, "gap not covered"),
        ("0.020000,0,3,0\n", Code.BEAM_EDGES_LOST, "at least 1 edge lost"),
    ],
)
def test_faults_of_the_board_end_in_doubt(tmp_path: Path, rows: str, code: Code, text: str):
    _, record = made(written(tmp_path, ROWS + rows + "# end 0.100000\n"))
    (notice,) = record.notices
    assert (notice.code, notice.level) == (code, Level.DOUBT)
    assert text in notice.text


def test_an_end_before_the_last_edge_says_nothing(tmp_path: Path):
    pulses, record = made(written(tmp_path, ROWS + "# end 0.012000\n"))
    assert len(pulses) == 1
    assert record.watched[-1].end_ns == 15_333_000
    assert [n.code for n in record.notices] == [Code.BEAM_END_UNKNOWN]


def test_a_beam_that_is_blocked_at_both_ends(tmp_path: Path):
    text = "time_s,blocked\n0.000000,1\n0.002000,0\n0.010000,1\n# end 0.012000\n"
    pulses, record = made(written(tmp_path, text))
    assert [(p.start_ns, p.end_ns, p.cut) for p in pulses] == [
        (0, 2_000_000, True),
        (10_000_000, 12_000_000, True),
    ]
    (notice,) = record.notices
    assert (notice.code, notice.level) == (Code.BEAM_BLOCKED_AT_ENDS, Level.INFO)
    assert "begins and as the log ends" in notice.text
