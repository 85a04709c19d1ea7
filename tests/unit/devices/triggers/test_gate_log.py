"""Logs of a gate's commands: what is read, and what is refused with its row."""

from pathlib import Path

import pytest

from viscount.devices.triggers.gate_log import SIGMA_S, read_gate_log
from viscount.errors import SourceError

HEAD = "# clock capture\ntime_s,command\n"


def read(path: Path, text: str):  # type: ignore[no-untyped-def]
    file = path / "gate.csv"
    file.write_text(text, encoding="utf-8")
    return read_gate_log(file)


def test_commands_with_their_clock(tmp_path: Path) -> None:
    text = "\ufeff# Clock board\n# sigma_ms 0.2\n\ntime_s , command\n1.5,shut\n 2.25 , open\n"
    found = read(tmp_path, text)
    assert (found.clock, found.first_shuts, found.at_s) == ("board", True, (1.5, 2.25))
    assert found.sigma_s == pytest.approx(2e-4)


def test_times_may_be_before_the_first_frame(tmp_path: Path) -> None:
    found = read(tmp_path, f"{HEAD}-0.5,open\n1,shut\n# end\n")
    assert (found.first_shuts, found.at_s, found.sigma_s) == (False, (-0.5, 1.0), SIGMA_S)


@pytest.mark.parametrize(
    ("text", "found", "where"),
    [
        ("", "without a header", ""),
        (HEAD, "without a command", ""),
        ("time_s,command\n1,shut\n", "on which clock", ""),
        ("# clock wall\n", "clock named 'wall'", ":1"),
        ("# sigma_ms -3\n", "sigma_ms is '-3'", ":1"),
        ("time_s;command\n", "no header", ":1"),
        ("1.0,shut\n", "no header", ":1"),
        (f"{HEAD}1.0\n", "1 columns", ":3"),
        (f"{HEAD}1,0,shut\n", "3 columns", ":3"),
        (f"{HEAD}soon,shut\n", "time_s is 'soon'", ":3"),
        (f"{HEAD}nan,shut\n", "time_s is 'nan'", ":3"),
        (f"{HEAD}1.0,close\n", "command is 'close'", ":3"),
        (f"{HEAD}1.0,shut\n1.5,shut\n", "two commands to shut", ":4"),
        (f"{HEAD}1.0,shut\n0.5,open\n", "time_s 0.5 does not come after 1", ":4"),
    ],
)
def test_what_is_no_such_log_is_refused(tmp_path: Path, text: str, found: str, where: str) -> None:
    with pytest.raises(SourceError, match=found) as caught:
        read(tmp_path, text)
    assert caught.value.where == f"{tmp_path / 'gate.csv'}{where}"


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="cannot be read"):
        read_gate_log(tmp_path / "none.csv")
    (tmp_path / "bytes.csv").write_bytes(b"\xff\xfe")
    with pytest.raises(SourceError, match="UTF-8"):
        read_gate_log(tmp_path / "bytes.csv")
