"""The engine in this process: what it makes of cameras that come, go, hang and repeat."""

import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from live_cameras import (
    OUTLET,
    QUICK,
    ScriptedCamera,
    counted,
    engine,
    opening,
    pour,
    stopped_after,
)

from viscount.clips.reader import ClipReader
from viscount.clips.writer import ClipWriter
from viscount.codes import Code
from viscount.errors import SourceError
from viscount.hooks.registry import RegisteredEntry, Registry
from viscount.offline import count
from viscount.seams import Entry, Options
from viscount.session.bounded import BoundedQueue
from viscount.session.messages import Began, Passed, Snapshot, Told
from viscount.session.plan import LivePlan
from viscount.session.sweeper import Sweeper
from viscount.tally import Tally
from viscount.testing import FakeDetector
from viscount.values import Frame, Status

LIVE = LivePlan(source="scripted", outlet=OUTLET)


@pytest.fixture(scope="module")
def frames() -> list[Frame]:
    return pour(10).frames


def codes(tally: Tally) -> list[Code]:
    return [reason.code for reason in tally.reasons]


def notes(tally: Tally) -> list[Code]:
    return [note.code for note in tally.notes]


def test_a_live_run_counts_what_the_recording_counts(frames: list[Frame], tmp_path: Path) -> None:
    clip = tmp_path / "clip.mp4"
    height, width = frames[0].pixels.shape
    with ClipWriter(clip, width, height, codec="ffv1") as writer:
        for frame in frames:
            writer.write(frame.pixels, frame.t_ns)
    recorded = count(clip, outlet=OUTLET)
    live = counted(opening(ScriptedCamera([*frames, "over"], recorded=True))).tally
    assert (live.count, live.status) == (recorded.count, recorded.status) == (10, Status.CLEAN)
    times = [[p.passage.t_ns for p in one.passages] for one in (live, recorded)]
    assert np.abs(np.subtract(*times)).max() < 200_000
    # The clip stores microseconds.
    assert live.frames.rate_hz == pytest.approx(recorded.frames.rate_hz, rel=1e-6)
    assert live.frames.end_s == pytest.approx(recorded.frames.end_s, abs=1e-6)
    same = replace(live.frames, rate_hz=recorded.frames.rate_hz, end_s=recorded.frames.end_s)
    assert same == recorded.frames
    assert live.started_at is not None


def test_what_is_recorded_counts_the_same(frames: list[Frame], tmp_path: Path) -> None:
    plan = replace(LIVE, clip=tmp_path / "clip.mp4", lossless=True)
    ended = counted(opening(ScriptedCamera([*frames, "over"], recorded=True)), plan)
    assert ended.clip == str(tmp_path / "clip.mp4")
    assert [path.name for path in tmp_path.iterdir()] == ["clip.mp4"]
    with ClipReader(tmp_path / "clip.mp4") as reader:
        pictures = list(reader)
    assert len(pictures) == len(frames)
    for picture, frame in zip(pictures, frames, strict=True):
        assert abs(picture.t_ns - frame.t_ns) <= 500
        assert np.array_equal(picture.pixels, frame.pixels)
    again = count(tmp_path / "clip.mp4", outlet=OUTLET)
    assert (again.count, again.status) == (ended.tally.count, ended.tally.status)


def test_observers_are_told_in_order(frames: list[Frame]) -> None:
    told: list[Any] = []
    counted(opening(ScriptedCamera([*frames, "over"], recorded=True)), tell=told.append)
    assert [type(one) for one in told if isinstance(one, Began)] == [Began]
    passages = [p for one in told if isinstance(one, Passed) for p in one.passages]
    assert sum(p.parts for p in passages) == 10
    last = [one for one in told if isinstance(one, Snapshot)][-1]
    assert (last.count, last.frames, last.dropped) == (10, len(frames), 0)


def test_a_camera_that_vanishes_is_opened_again_and_the_time_between_is_blind(
    frames: list[Frame],
) -> None:
    told: list[Any] = []
    first = ScriptedCamera([*frames, "lost"])
    second = ScriptedCamera([*frames, threading.Event()])
    one = engine(opening(first, second), tell=told.append)
    tally = stopped_after(one, lambda: second.given == len(frames)).tally
    assert tally.camera.count == 20
    assert tally.status is Status.DOUBTFUL
    assert codes(tally) == [Code.FRAMES_LOST]
    assert Code.CAMERA_LOST in notes(tally)
    assert [t.notice.code for t in told if isinstance(t, Told)] == [Code.CAMERA_LOST]
    ((start, end),) = tally.frames.blind
    assert start == pytest.approx(frames[-1].t_ns * 1e-9, abs=1e-6)
    # Times go on by the host's clock.
    assert end - start > 0.03
    assert tally.frames.end_s == pytest.approx(end + frames[-1].t_ns * 1e-9, abs=1e-6)


def test_there_is_a_sweep_between_frames_and_whenever_the_camera_is_opened(
    frames: list[Frame],
) -> None:
    noted: list[str] = []

    class Noting(Sweeper):
        def frame(self, waiting: int) -> None:
            noted.append("frame" if waiting >= 0 else "")

        def opened(self) -> None:
            noted.append("opened")

    first = ScriptedCamera([*frames[:70], "lost"])
    second = ScriptedCamera([*frames, threading.Event()])
    one = engine(opening(first, second), sweeper=Noting())
    stopped_after(one, lambda: second.given == len(frames))
    assert noted == ["opened", *["frame"] * 70, "opened", *["frame"] * len(frames)]


@pytest.mark.parametrize("hangs", [False, True])
def test_a_camera_that_hangs_is_given_up_and_opened_again(frames: list[Frame], hangs: bool) -> None:
    never = threading.Event()
    first = ScriptedCamera([*frames[:80], never], hangs=hangs)
    second = ScriptedCamera([*frames, threading.Event()])
    one = engine(opening(first, second))
    tally = stopped_after(one, lambda: second.given == len(frames)).tally
    never.set()
    assert Code.CAMERA_SILENT in notes(tally)
    assert tally.camera.count >= 10
    assert len(tally.frames.blind) == 1


def test_what_a_hung_camera_still_brings_is_not_looked_at(frames: list[Frame]) -> None:
    """Its driver comes back to life while another opening is being counted."""
    awake = threading.Event()
    first = ScriptedCamera([*frames[:60], awake, *frames[60:]], hangs=True)
    second = ScriptedCamera([*frames, threading.Event()])
    one = engine(opening(first, second))

    def both() -> bool:
        if second.given > 10:
            awake.set()
        return second.given == len(frames)

    tally = stopped_after(one, both).tally
    assert awake.is_set()
    assert tally.camera.count == 10
    assert tally.frames.read == 60 + len(frames)


def test_a_camera_that_repeats_itself_is_opened_again(frames: list[Frame]) -> None:
    same = [replace(frames[20], t_ns=frames[20].t_ns + k * 8_333_333) for k in range(1, 120)]
    first = ScriptedCamera([*frames[:21], *same, threading.Event()])
    second = ScriptedCamera([*frames, threading.Event()])
    limits = replace(QUICK, silent_s=5.0)
    one = engine(opening(first, second), limits=limits)
    tally = stopped_after(one, lambda: second.given == len(frames)).tally
    assert Code.CAMERA_HANGS in notes(tally)
    assert tally.frames.repeated > 2
    assert tally.camera.count == 10
    # What repeats is old: time is blind from the last new picture on.
    assert tally.frames.blind[0][0] == pytest.approx(frames[20].t_ns * 1e-9, abs=1e-6)


def test_a_camera_that_is_gone_as_the_run_ends_leaves_its_last_time_blind(
    frames: list[Frame],
) -> None:
    first = ScriptedCamera([*frames, "lost"])
    gone = SourceError("no such camera")
    told: list[Any] = []
    one = engine(opening(first, gone), tell=told.append)
    tally = stopped_after(one, lambda: any(isinstance(t, Told) for t in told)).tally
    assert tally.camera.count == 10
    assert codes(tally) == [Code.CAMERA_GONE]
    (start, end) = tally.frames.blind[-1]
    assert start == pytest.approx(frames[-1].t_ns * 1e-9, abs=1e-6)
    assert end > start


def test_a_picture_that_stays_until_the_end_leaves_its_time_blind(frames: list[Frame]) -> None:
    last = frames[-1]
    same = [replace(last, t_ns=last.t_ns + k * 8_333_333) for k in range(1, 90)]
    camera = ScriptedCamera([*frames, *same, threading.Event()])
    one = engine(opening(camera), limits=replace(QUICK, silent_s=0.5, repeats_s=60.0))
    tally = stopped_after(one, lambda: camera.given == len(frames) + 89).tally
    assert codes(tally) == [Code.CAMERA_GONE]
    (start, end) = tally.frames.blind[-1]
    assert start == pytest.approx(last.t_ns * 1e-9, abs=1e-6)
    assert end - start > 0.5


def test_damaged_pictures_are_left_out_and_are_blind_time(frames: list[Frame]) -> None:
    script = [replace(f, damaged=f.index in (30, 31)) for f in frames]
    camera = ScriptedCamera([*script, threading.Event()])
    one = engine(opening(camera), limits=replace(QUICK, silent_s=5.0))
    tally = stopped_after(one, lambda: camera.given == len(frames)).tally
    assert tally.frames.damaged == 2
    assert tally.frames.blind == (
        (pytest.approx(frames[29].t_ns * 1e-9), pytest.approx(frames[32].t_ns * 1e-9)),
    )
    assert (tally.count, tally.status) == (10, Status.CLEAN)


class Slow(FakeDetector):
    """Sees nothing new until it is let go."""

    go = threading.Event()

    def see(self, frame: Frame, *, learn: bool = True) -> Any:
        if frame.index > 5:
            assert self.go.wait(20)
        return super().see(frame, learn=learn)


def registry_of(make: Any) -> Registry:
    entry = Entry(api=1, name="difference", summary="a stand-in", options=Options, make=make)
    one = RegisteredEntry(kind="detector", entry=entry, plugin="test", origin="test")
    return Registry(entries=(one,), refused=())


def test_frames_that_do_not_fit_are_dropped_and_are_blind_time(frames: list[Frame]) -> None:
    Slow.go = threading.Event()
    camera = ScriptedCamera([*frames, threading.Event()])
    told: list[Any] = []
    one = engine(
        opening(camera),
        registry=registry_of(lambda options, view: Slow(view)),
        limits=replace(QUICK, silent_s=50.0),
        inbox=BoundedQueue(most_items=4),
        tell=told.append,
    )

    def overflowed() -> bool:
        if camera.given == len(frames):
            Slow.go.set()
        return Slow.go.is_set()

    tally = stopped_after(one, overflowed).tally
    dropped = len(frames) - tally.frames.read
    assert dropped > 0
    # Each frame that was left out lies in blind time, to the interval.
    assert tally.frames.blind_s == pytest.approx((dropped + 1) / 120, abs=0.0095)
    assert Code.FRAMES_DROPPED in notes(tally)
    assert f"{dropped} frames came faster" in " ".join(n.text for n in tally.notes)


def test_a_detector_that_breaks_ends_the_run_as_invalid(frames: list[Frame]) -> None:
    registry = registry_of(lambda options, view: FakeDetector(view, fails_at=70))
    camera = ScriptedCamera([*frames, "over"], recorded=True)
    tally = counted(opening(camera), registry=registry).tally
    assert tally.status is Status.INVALID
    assert codes(tally) == [Code.DETECTOR_FAILED]
    assert tally.count is None


def test_a_stopped_run_is_a_run(frames: list[Frame]) -> None:
    camera = ScriptedCamera([*frames, threading.Event()])
    one = engine(opening(camera), limits=replace(QUICK, silent_s=20.0))
    tally = stopped_after(one, lambda: camera.given == len(frames)).tally
    assert (tally.count, tally.status) == (10, Status.CLEAN)


def test_a_run_may_end_before_its_background_is_known(frames: list[Frame]) -> None:
    camera = ScriptedCamera([*frames[:20], threading.Event()])
    one = engine(opening(camera), limits=replace(QUICK, silent_s=20.0))
    tally = stopped_after(one, lambda: camera.given == 20).tally
    assert tally.frames.read == 20
    assert tally.count == 0


def test_a_recording_ends_when_the_time_is_over(frames: list[Frame]) -> None:
    camera = ScriptedCamera([*frames, "over"], recorded=True)
    tally = counted(opening(camera), replace(LIVE, for_s=0.6)).tally
    assert tally.frames.end_s == pytest.approx(0.6, abs=0.009)
    assert tally.frames.end_s < 0.6001


def test_a_camera_that_cannot_be_opened_is_said(tmp_path: Path) -> None:
    plan = replace(LIVE, clip=tmp_path / "clip.mp4")
    with pytest.raises(SourceError, match="no such camera"):
        counted(opening(SourceError("no such camera")), plan)
    assert list(tmp_path.iterdir()) == []


def test_a_camera_that_gives_nothing_is_said() -> None:
    with pytest.raises(SourceError, match="gave no picture"):
        counted(opening(ScriptedCamera(["over"], recorded=False)))
    never = threading.Event()
    with pytest.raises(SourceError, match="no picture within"):
        counted(opening(ScriptedCamera([never])), limits=replace(QUICK, first_s=0.25))
    never.set()


def test_a_camera_that_breaks_is_no_broken_program() -> None:
    class Broken(ScriptedCamera):
        def frames(self) -> Any:
            raise ZeroDivisionError("in the driver")

    with pytest.raises(SourceError, match="the camera broke: ZeroDivisionError: in the driver"):
        counted(opening(Broken([])))


def test_twenty_runs_leave_no_thread_and_no_file_open(frames: list[Frame], tmp_path: Path) -> None:
    few = frames[:12]

    def run(number: int) -> None:
        plan = replace(LIVE, clip=tmp_path / f"{number}.mp4")
        counted(opening(ScriptedCamera([*few, "over"], recorded=True, pace_s=0.0)), plan)

    run(0)
    threads, handles = threading.active_count(), open_handles()
    for number in range(1, 21):
        run(number)
    assert threading.active_count() == threads
    assert open_handles() == handles
    assert len(list(tmp_path.iterdir())) == 21


def open_handles() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))
