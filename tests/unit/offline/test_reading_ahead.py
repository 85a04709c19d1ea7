"""A count reads its clip ahead: it ends with that reading, however it ends, and counts the same."""

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from commands import call
from live_cameras import OUTLET, pour

from viscount.clips.writer import ClipWriter
from viscount.codes import Code
from viscount.devices.cameras import playback
from viscount.hooks.registry import RegisteredEntry, Registry
from viscount.offline import count
from viscount.outlet import Outlet
from viscount.report.tally_json import tally_json
from viscount.seams import Entry, Options
from viscount.testing import FakeDetector
from viscount.values import Frame, Status


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A pour longer than the frames that a count looks at beforehand."""
    frames = pour(40).frames
    assert len(frames) > 150
    path = tmp_path_factory.mktemp("ahead") / "clip.mp4"
    height, width = frames[0].pixels.shape
    with ClipWriter(path, width, height) as writer:
        for frame in frames:
            writer.write(frame.pixels, frame.t_ns)
    return path


def readers() -> list[threading.Thread]:
    return [one for one in threading.enumerate() if one.name == "read ahead"]


class Watching:
    """Does something at each frame, and notes whether the clip was being read ahead."""

    def __init__(self, does: Callable[[Frame], None]) -> None:
        self._does = does
        self.ahead = 0

    def start(self, outlet: Outlet, line_px: float, frames: int | None) -> None:
        """Nothing to note yet."""

    def frame(self, frame: Frame) -> None:
        self.ahead = max(self.ahead, len(readers()))
        self._does(frame)


def test_a_clip_read_ahead_is_counted_as_one_read_as_it_goes(
    clip: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    watching = Watching(lambda frame: None)
    ahead = count(clip, outlet=OUTLET, watcher=watching)
    assert watching.ahead == 1
    real = playback.ClipReader
    monkeypatch.setattr(
        playback, "ClipReader", lambda path, **more: real(path, **{**more, "ahead": False})
    )
    plain_watching = Watching(lambda frame: None)
    plain = count(clip, outlet=OUTLET, watcher=plain_watching)
    assert plain_watching.ahead == 0
    assert tally_json(ahead) == tally_json(plain)


@pytest.mark.parametrize("error", [KeyboardInterrupt, RuntimeError])
def test_a_count_that_is_broken_off_leaves_no_thread(
    clip: Path, error: type[BaseException]
) -> None:
    def stop(frame: Frame) -> None:
        if frame.index == 120:
            raise error

    watching = Watching(stop)
    with pytest.raises(error):
        count(clip, outlet=OUTLET, watcher=watching)
    assert watching.ahead == 1
    assert readers() == []


def test_a_detector_that_breaks_ends_the_reading_at_its_frame(clip: Path) -> None:
    entry = Entry(
        api=1,
        name="difference",
        summary="a stand-in",
        options=Options,
        make=lambda options, view: FakeDetector(view, fails_at=120),
    )
    one = RegisteredEntry(kind="detector", entry=entry, plugin="test", origin="test")
    tally = count(clip, outlet=OUTLET, registry=Registry(entries=(one,), refused=()))
    assert tally.status is Status.INVALID
    assert [reason.code for reason in tally.reasons] == [Code.DETECTOR_FAILED]
    assert tally.frames.read == 121
    assert readers() == []


def test_a_damaged_clip_through_the_command(clip: Path, tmp_path: Path) -> None:
    data = clip.read_bytes()
    short = tmp_path / "cut.mp4"
    short.write_bytes(data[: int(0.8 * len(data))])
    answer = call("count", short, "--json")
    assert (answer.status, answer.err) == (10, "")
    assert Code.RECORDING_INCOMPLETE.code in answer.out
    assert readers() == []
