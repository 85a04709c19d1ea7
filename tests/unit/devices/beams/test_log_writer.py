"""A beam log that is being written: what is read back, whole or cut off by a kill."""

from pathlib import Path

import pytest

from viscount.devices.beams.log import BeamLog
from viscount.devices.beams.log_writer import BeamLogWriter
from viscount.errors import UsageError
from viscount.values import Edge

EDGES = [
    Edge(device_t_ns=4_294_000_000_000, blocked=False, seq=7, boot=0),
    Edge(device_t_ns=4_294_967_295_000, blocked=True, seq=8, boot=0),
    Edge(device_t_ns=1_000, blocked=False, seq=9, boot=0),
    Edge(device_t_ns=123_456_000, blocked=False, seq=0, boot=1),
]


def read(path: Path) -> tuple[list[Edge], int | None]:
    log = BeamLog(path)
    edges = list(log.edges())
    return edges, log.end_device_t_ns


def test_edges_come_back_as_they_were(tmp_path: Path) -> None:
    writer = BeamLogWriter(tmp_path / "beam.csv")
    writer.write(EDGES[:1])
    writer.write(EDGES[1:])
    assert not (tmp_path / "beam.csv").exists()
    assert writer.close(200_000_000)
    assert read(tmp_path / "beam.csv") == (EDGES, 200_000_000)
    assert not writer.partial.exists()


def test_what_a_kill_leaves_is_whole_up_to_its_last_row(tmp_path: Path) -> None:
    writer = BeamLogWriter(tmp_path / "beam.csv")
    for count, edge in enumerate(EDGES, start=1):
        writer.write([edge])
        # Another process sees each row as soon as it is written.
        assert read(writer.partial) == (EDGES[:count], None)
    writer.close()


def test_an_end_that_is_not_known_is_not_stated(tmp_path: Path) -> None:
    writer = BeamLogWriter(tmp_path / "beam.csv")
    writer.write(EDGES)
    writer.close()
    assert "end" not in (tmp_path / "beam.csv").read_text(encoding="utf-8")


def test_a_log_without_a_row_is_none(tmp_path: Path) -> None:
    assert not BeamLogWriter(tmp_path / "beam.csv").close(5)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="cannot be created"):
        BeamLogWriter(tmp_path / "no" / "beam.csv")
