"""Real clips of many makers: each opens, and its times are those of its container."""

from pathlib import Path

import pytest

from viscount.clips.reader import ClipReader

# Numbers of frames are those that come with the clips.
CLIPS = [
    ("coins-falling/coins.mp4", 711, (360, 640), 29.97),
    ("ball-drop/ball_drop.mp4", 327, (1716, 172), 29.995),
    ("freefall-blueball/freefall.mp4", 240, (1162, 720), 30.0),
    ("falling-pen/falling_pen.avi", 8, (650, 300), 6.0),
    ("bolt-conveyor/bolt-multi-size-detection.gif", 37, (270, 480), 15.0),
    ("cars-2way/car-detection.mp4", 377, (432, 768), 12.5),
    ("traffic/bgs_video.avi", 374, (360, 640), 30.0),
]


@pytest.mark.footage
@pytest.mark.parametrize(("name", "frames", "shape", "rate_hz"), CLIPS)
def test_real_clips(
    footage: Path, name: str, frames: int, shape: tuple[int, int], rate_hz: float
) -> None:
    with ClipReader(footage / name) as clip:
        shapes = {picture.pixels.shape for picture in clip}
        report = clip.report()
    assert shapes == {shape}
    assert report.read == frames
    assert report.rate_hz == pytest.approx(rate_hz, rel=1e-3)
    assert report.lost == report.damaged == report.untimed == 0
    assert not report.incomplete


@pytest.mark.footage
def test_a_phone_clip_names_its_capture_rate(footage: Path) -> None:
    with ClipReader(footage / "ball-drop/ball_drop.mp4") as clip:
        assert clip.header.capture_tag == "com.android.capture.fps"
        assert clip.header.capture_hz == 120.0
