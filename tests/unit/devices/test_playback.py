"""Playback as a camera: frames, and the notices its report calls for."""

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from viscount.clips.pace import Gap, Pace
from viscount.clips.report import ClipReport, Header
from viscount.codes import Code
from viscount.devices.cameras.notices import clip_notices
from viscount.devices.cameras.playback import PlaybackCamera
from viscount.errors import UsageError
from viscount.seams import Camera
from viscount.values import Level, Marks

ClipMaker = Callable[..., Path]


def noise(count: int) -> NDArray[np.uint8]:
    return np.random.default_rng(2).integers(0, 256, (count, 24, 32), dtype=np.uint8)


def codes(camera: PlaybackCamera) -> dict[Code, Level]:
    return {notice.code: notice.level for notice in camera.notices()}


def played(path: Path, **options: float) -> PlaybackCamera:
    with PlaybackCamera(path, **options) as camera:  # type: ignore[arg-type]
        assert list(camera.frames())
    return camera


def test_a_clip_is_a_camera(write_clip: ClipMaker) -> None:
    with PlaybackCamera(write_clip("clip.mkv", noise(5), [7, 40, 73, 107, 140])) as camera:
        assert isinstance(camera, Camera)
        frames = list(camera.frames())
        assert camera.notices() == ()
    assert [frame.index for frame in frames] == [0, 1, 2, 3, 4]
    assert [frame.t_ns // 1_000_000 for frame in frames] == [0, 33, 66, 100, 133]
    for frame, picture in zip(frames, noise(5), strict=True):
        np.testing.assert_array_equal(frame.pixels, picture)
        assert not frame.pixels.flags.writeable
        assert frame.marks is Marks.UNKNOWN
        assert frame.seq is None
        assert frame.age_ns == 0


def test_each_call_begins_at_the_first_frame(write_clip: ClipMaker) -> None:
    with PlaybackCamera(write_clip("clip.mkv", noise(5), range(0, 200, 40))) as camera:
        first = next(camera.frames())
        again = [frame.t_ns for frame in camera.frames()]
        assert first.t_ns == again[0] == 0
        assert len(again) == 5
        assert camera.report().read == 5


def test_a_closed_clip_is_not_played(write_clip: ClipMaker) -> None:
    camera = PlaybackCamera(write_clip("clip.mkv", noise(3), [0, 40, 80]))
    camera.close()
    camera.close()
    with pytest.raises(UsageError, match="closed"):
        next(camera.frames())


def test_lost_and_repeated_frames_are_told_without_a_doubt(write_clip: ClipMaker) -> None:
    pictures = noise(30)
    pictures[20] = pictures[19]
    stamps = [40 * (k if k < 10 else k + 3) for k in range(30)]
    camera = played(write_clip("clip.mkv", pictures, stamps))
    assert codes(camera) == {Code.FRAMES_LOST: Level.INFO, Code.FRAMES_REPEATED: Level.INFO}
    lost, repeated = sorted(camera.notices(), key=lambda notice: notice.code.code)
    assert "3 frames missing in 1 gap;" in lost.text
    assert "160.0 ms, is before frame 10" in lost.text
    assert "1 of 30 frames" in repeated.text
    assert lost.where == "clip.mkv"


def test_a_cut_clip_is_doubtful(write_clip: ClipMaker) -> None:
    path = write_clip("clip.mkv", noise(30), range(0, 1200, 40))
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 6 // 10])
    camera = played(path)
    assert codes(camera)[Code.RECORDING_INCOMPLETE] is Level.DOUBT
    assert "states 1.2" in camera.notices()[0].text


def test_an_uneven_clock_is_told(write_clip: ClipMaker) -> None:
    steps = np.random.default_rng(3).integers(10, 90, 60)
    camera = played(write_clip("clip.mkv", noise(60), np.cumsum(steps).tolist()))
    assert codes(camera)[Code.CLOCK_VARIES] is Level.INFO


def test_a_capture_rate_tag_is_named_where_it_says_something_new(write_clip: ClipMaker) -> None:
    path = write_clip(
        "clip.mp4",
        np.repeat(noise(20), 4, axis=2),
        range(0, 660, 33),
        codec="libx264",
        pix_fmt="yuv420p",
        metadata={"com.android.capture.fps": "240.0"},
        container_options={"movflags": "use_metadata_tags"},
    )
    camera = played(path)
    assert codes(camera) == {Code.CAPTURE_RATE_TAG: Level.INFO}
    assert "com.android.capture.fps states 240" in camera.notices()[0].text
    # Once the clip is played at the tag's rate there is nothing left to say.
    assert codes(played(path, capture_fps=240)) == {}


@pytest.mark.parametrize(
    ("name", "codec", "pix_fmt"),
    [("clip.mjpeg", "mjpeg", "yuvj420p"), ("clip.h264", "libx264", "yuv420p")],
)
def test_a_bare_stream_has_an_assumed_clock(
    write_clip: ClipMaker, name: str, codec: str, pix_fmt: str
) -> None:
    path = write_clip(name, noise(20), range(0, 800, 40), codec=codec, pix_fmt=pix_fmt)
    assert codes(played(path)) == {Code.CLOCK_ASSUMED: Level.INFO}
    assert codes(played(path, capture_fps=120)) == {}


def report(**changes: object) -> ClipReport:
    known: dict[str, object] = {
        "header": Header(container="mov", codec="h264", width=32, height=24),
        "read": 100,
        "last_t_ns": 990_000_000,
        "damaged": 0,
        "repeated_at": (),
        "untimed": 0,
        "incomplete": False,
        "ended": True,
        "pace": Pace(interval_ns=1e7, spread_ns=0.0, steady=True, gaps=()),
    }
    return ClipReport(**(known | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, []),
        ({"damaged": 2}, [(Level.DOUBT, Code.FRAMES_DAMAGED)]),
        ({"untimed": 1}, [(Level.DOUBT, Code.FRAMES_UNTIMED)]),
        ({"incomplete": True}, [(Level.DOUBT, Code.RECORDING_INCOMPLETE)]),
        ({"pace": None, "read": 1}, []),
    ],
)
def test_notices_follow_the_report(
    changes: dict[str, object], expected: Sequence[tuple[Level, Code]]
) -> None:
    notices = clip_notices(report(**changes), "clip", rate_given=False)
    assert [(notice.level, notice.code) for notice in notices] == expected


def test_the_longest_gap_is_the_one_that_is_named() -> None:
    gaps = (
        Gap(frame=5, interval_ns=20_000_000, lost=1),
        Gap(frame=9, interval_ns=50_000_000, lost=4),
    )
    pace = Pace(interval_ns=1e7, spread_ns=0.0, steady=True, gaps=gaps)
    (notice,) = clip_notices(report(pace=pace), "clip", rate_given=False)
    assert notice.text.startswith("5 frames missing in 2 gaps; the longest, 50.0 ms")
