"""The recording: what is written, what is left out when it falls behind, and what breaks."""

import threading
from pathlib import Path

import numpy as np
import pytest

from viscount.clips.reader import ClipReader
from viscount.clips.writer import ClipWriter
from viscount.codes import Code
from viscount.devices.beams.log import BeamLog
from viscount.errors import UsageError
from viscount.session.bounded import MOST_FRAMES
from viscount.session.recorder import Recorder
from viscount.values import Edge, Level

MS = 1_000_000
PICTURE = np.full((16, 12), 90, np.uint8)
EDGES = [Edge(device_t_ns=k * MS, blocked=bool(k % 2), seq=k, boot=0) for k in range(5)]


def test_pictures_and_edges_are_written(tmp_path: Path) -> None:
    recorder = Recorder(tmp_path / "clip.mp4", tmp_path / "beam.csv")
    for k in range(20):
        recorder.picture(k * 8 * MS, PICTURE)
    recorder.edges(EDGES)
    assert recorder.close(9 * MS) == (tmp_path / "clip.mp4", tmp_path / "beam.csv")
    with ClipReader(tmp_path / "clip.mp4") as reader:
        assert [picture.t_ns for picture in reader] == [k * 8 * MS for k in range(20)]
    log = BeamLog(tmp_path / "beam.csv")
    assert list(log.edges()) == EDGES
    assert log.end_device_t_ns == 9 * MS
    assert list(recorder.notices()) == []


def test_a_recorder_of_nothing_writes_nothing(tmp_path: Path) -> None:
    recorder = Recorder(None, None)
    recorder.picture(0, PICTURE)
    recorder.edges(EDGES)
    assert recorder.close() == (None, None)
    assert recorder.missed == 0


def test_a_disk_that_is_too_slow_costs_pictures_and_no_edge(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    go = threading.Event()
    write = ClipWriter.write

    def slow(self: ClipWriter, pixels: np.ndarray, t_ns: int) -> None:
        assert go.wait(10)
        write(self, pixels, t_ns)

    monkeypatch.setattr(ClipWriter, "write", slow)
    recorder = Recorder(tmp_path / "clip.mp4", tmp_path / "beam.csv")
    for k in range(MOST_FRAMES + 30):
        recorder.picture(k * 8 * MS, PICTURE)
    recorder.edges(EDGES)
    go.set()
    recorder.close(9 * MS)
    # The thread holds one while the queue fills, or none yet.
    assert recorder.missed in (29, 30)
    (notice,) = recorder.notices()
    assert (notice.code, notice.level) == (Code.RECORDING_BEHIND, Level.INFO)
    assert f"lacks {recorder.missed} frames" in notice.text
    with ClipReader(tmp_path / "clip.mp4") as reader:
        assert len(list(reader)) == MOST_FRAMES + 30 - recorder.missed
    assert list(BeamLog(tmp_path / "beam.csv").edges()) == EDGES


def test_a_disk_that_is_full_ends_the_clip_and_not_the_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = ClipWriter.write

    def full(self: ClipWriter, pixels: np.ndarray, t_ns: int) -> None:
        if t_ns >= 10 * 8 * MS:
            raise OSError(28, "No space left on device")
        write(self, pixels, t_ns)

    monkeypatch.setattr(ClipWriter, "write", full)
    recorder = Recorder(tmp_path / "clip.mp4", tmp_path / "beam.csv")
    for k in range(20):
        recorder.picture(k * 8 * MS, PICTURE)
    recorder.edges(EDGES)
    clip, log = recorder.close(9 * MS)
    assert (clip, log) == (None, tmp_path / "beam.csv")
    (notice,) = recorder.notices()
    assert notice.code is Code.RECORDING_FAILED
    assert "No space left" in notice.text
    assert not (tmp_path / "clip.mp4").exists()
    with ClipReader(tmp_path / "clip.partial.mp4") as reader:
        assert len(list(reader)) == 10


def test_a_run_without_a_picture_leaves_no_clip(tmp_path: Path) -> None:
    assert Recorder(tmp_path / "clip.mp4", None).close() == (None, None)
    assert list(tmp_path.iterdir()) == []


def test_a_log_that_cannot_be_created_is_said_at_once(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="cannot be created"):
        Recorder(None, tmp_path / "no" / "beam.csv")
