"""A live run in processes of its own: observed, stopped, killed; nothing is left behind."""

import os
import signal
import threading
from multiprocessing import active_children
from pathlib import Path

import pytest
from counting import outlet
from live_observers import PLACE, asleep, leaving, looking, staying
from scenes import field_scene

from viscount.clips.writer import ClipWriter
from viscount.errors import ExitStatus, SourceError
from viscount.offline import count
from viscount.session.live_run import EngineLostError, LiveRun
from viscount.session.messages import Began, Snapshot
from viscount.session.plan import LivePlan
from viscount.values import Status

OUTLET = outlet(
    view={"line_px": 80, "scale_px_per_mm": 4.0, "lip_px": -16.0},
    motion={"kind": "belt", "speed_mm_s": 375.0},
)


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    shot = field_scene(parts=8, pitch_ms=75.0, speed_px_s=1500.0, fps=120)
    path = tmp_path_factory.mktemp("live") / "clip.mp4"
    height, width = shot.frames[0].pixels.shape
    with ClipWriter(path, width, height) as writer:
        for frame in shot.frames:
            writer.write(frame.pixels, frame.t_ns)
    return path


def shared_memory() -> set[str]:
    return {path.name for path in Path("/dev/shm").glob("psm_*")}


def test_a_run_is_watched_and_leaves_nothing_behind(
    clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(PLACE, str(tmp_path / "seen.txt"))
    threads = threading.active_count()
    with LiveRun(LivePlan(source=str(clip), outlet=OUTLET), [looking, asleep]) as run:
        board = run.view._board.name
        assert board in shared_memory()
        told = []
        while not run.ended():
            told += run.values(0.1)
        ended = run.result()
        assert run.view.picture() is not None
    assert (ended.tally.count, ended.tally.status) == (8, Status.CLEAN)
    assert any(isinstance(one, Began) for one in told)
    assert [one.count for one in told if isinstance(one, Snapshot)][-1] == 8
    assert ended.timing.work_p99_s is not None
    pictures, values, _ = map(int, (tmp_path / "seen.txt").read_text(encoding="utf-8").split())
    assert pictures > 5
    assert values > 5
    assert active_children() == []
    assert threading.active_count() == threads
    assert board not in shared_memory()


def test_a_run_that_is_stopped_ends_as_a_run_and_one_that_is_killed_leaves_its_recording(
    clip: Path, tmp_path: Path
) -> None:
    plan = LivePlan(source=str(clip), outlet=OUTLET, clip=tmp_path / "pour.mp4")
    with LiveRun(plan) as run:
        while not any(isinstance(one, Began) for one in run.values(0.1)):
            assert not run.ended()
        run.stop()
        ended = run.result(20.0)
    frames = ended.tally.frames.read
    assert 0 < frames < 190
    assert count(tmp_path / "pour.mp4", outlet=OUTLET).frames.read == frames

    slow = LivePlan(
        source=str(clip), outlet=OUTLET, clip=tmp_path / "killed.mp4", options={"speed": 0.5}
    )
    with LiveRun(slow) as run:
        seen = [0.0]
        while seen[-1] < 1.1:
            seen += [one.t_s for one in run.values(0.1) if isinstance(one, Snapshot)]
        assert run.engine_pid is not None
        os.kill(run.engine_pid, signal.SIGKILL)
        with pytest.raises(EngineLostError, match="without an answer") as caught:
            run.result(20.0)
    assert caught.value.exit_status is ExitStatus.INVALID
    assert "killed.partial.mp4" in caught.value.remedy
    partial = count(tmp_path / "killed.partial.mp4", outlet=OUTLET)
    assert partial.frames.end_s is not None
    assert partial.frames.end_s >= seen[-1] - 0.3


def test_a_window_is_told_the_end_and_stays_until_it_is_closed(
    clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(PLACE, str(tmp_path / "seen.txt"))
    with LiveRun(LivePlan(source=str(clip), outlet=OUTLET), shown=[staying]) as run:
        board = run.view._board.name
        ended = run.result(60.0)
    windows = run.windows
    assert len(windows) == 1
    assert board not in shared_memory()
    (tmp_path / "seen.txt.close").touch()
    windows.wait()
    assert len(windows) == 0
    said = (tmp_path / "seen.txt").read_text(encoding="utf-8")
    told, pictures = said.rsplit(" ", 1)
    assert told == f"Ended {ended.tally.count}"
    assert 20 < int(pictures) <= 190
    assert active_children() == []


def test_a_window_that_is_closed_ends_no_run(
    clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(PLACE, str(tmp_path / "seen.txt"))
    with LiveRun(LivePlan(source=str(clip), outlet=OUTLET), shown=[leaving, staying]) as run:
        assert run.result(60.0).tally.count == 8
    run.windows.end()
    run.windows.end()
    assert active_children() == []


def test_what_the_engine_refuses_is_said_here() -> None:
    with (
        LiveRun(LivePlan(source="nowhere.mp4")) as run,
        pytest.raises(SourceError, match="there is no such file"),
    ):
        run.result(30.0)
    assert active_children() == []
