"""Choosing the camera for a path."""

from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from viscount.devices.cameras.playback import PlaybackCamera
from viscount.devices.cameras.source import open_source
from viscount.devices.cameras.stills import StillsCamera
from viscount.errors import SourceError

ClipMaker = Callable[..., Path]


def noise(count: int) -> NDArray[np.uint8]:
    return np.random.default_rng(4).integers(0, 256, (count, 24, 32), dtype=np.uint8)


@pytest.mark.parametrize(
    ("name", "codec", "pix_fmt"),
    [
        ("clip.mkv", "ffv1", "gray"),
        ("clip.avi", "mjpeg", "yuvj420p"),
        ("clip.gif", "gif", "gray"),
        ("clip.apng", "apng", "gray"),
    ],
)
def test_clips_are_played(write_clip: ClipMaker, name: str, codec: str, pix_fmt: str) -> None:
    path = write_clip(name, noise(5), range(0, 200, 40), codec=codec, pix_fmt=pix_fmt)
    with open_source(path, threads=1) as camera:
        assert isinstance(camera, PlaybackCamera)
        assert [frame.t_ns // 1_000_000 for frame in camera.frames()] == [0, 40, 80, 120, 160]


def test_a_moving_png_is_played_and_a_still_one_shown(
    write_clip: ClipMaker, tmp_path: Path
) -> None:
    path = write_clip("clip.apng", noise(5), range(0, 200, 40), codec="apng")
    moving, still = path.rename(tmp_path / "moving.png"), tmp_path / "still.png"
    cv2.imwrite(str(still), noise(1)[0])
    with open_source(moving) as camera:
        assert isinstance(camera, PlaybackCamera)
        assert len(list(camera.frames())) == 5
    with open_source(still) as camera:
        assert isinstance(camera, StillsCamera)
        assert len(list(camera.frames())) == 1


def test_a_folder_is_shown_at_the_rate_of_capture(tmp_path: Path) -> None:
    for number, picture in enumerate(noise(3)):
        cv2.imwrite(str(tmp_path / f"{number}.png"), picture)
    with open_source(tmp_path, capture_fps=200) as camera:
        assert isinstance(camera, StillsCamera)
        assert [frame.t_ns for frame in camera.frames()] == [0, 5_000_000, 10_000_000]
        assert camera.notices() == ()


def test_slow_motion_is_undone(write_clip: ClipMaker) -> None:
    path = write_clip("clip.mkv", noise(5), range(0, 200, 40))
    with open_source(path, capture_fps=250) as camera:
        assert [frame.t_ns // 1_000_000 for frame in camera.frames()] == [0, 4, 8, 12, 16]


@pytest.mark.parametrize("name", ["missing.mp4", "missing.png", "missing"])
def test_what_is_not_there(tmp_path: Path, name: str) -> None:
    with pytest.raises(SourceError, match="no such file"):
        open_source(tmp_path / name)


@pytest.mark.parametrize("name", ["log.csv", "log.txt", "clip.mp4", "picture.png"])
def test_text_is_refused_under_any_name(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.write_text("time_s,blocked\n0.1,1\n" * 20, encoding="ascii")
    with pytest.raises(SourceError):
        open_source(path)


def test_an_empty_picture_is_refused(tmp_path: Path) -> None:
    (tmp_path / "picture.png").touch()
    with pytest.raises(SourceError, match="empty"):
        open_source(tmp_path / "picture.png")
