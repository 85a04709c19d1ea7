"""Every camera of ours does what the conformance kit asks, and the kit finds what is wrong."""

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from pictures import GREY, empty, film
from scenes import field_scene
from streaming import MjpegServer

from viscount.clips.writer import ClipWriter
from viscount.devices.cameras.device import DeviceCamera, DeviceOptions
from viscount.devices.cameras.filling import FillingFolderCamera, FillingOptions
from viscount.devices.cameras.playback import PlaybackCamera
from viscount.devices.cameras.rendered import RenderedCamera, RenderedOptions
from viscount.devices.cameras.replay import ReplayCamera, ReplayOptions
from viscount.devices.cameras.stills import StillsCamera
from viscount.devices.cameras.stream import StreamCamera, StreamOptions
from viscount.hooks.loading import load_plugins
from viscount.seams import Aim, Camera, Entry
from viscount.simulate.pour import scene_text
from viscount.testing import FakeCamera, check_camera, check_camera_entry
from viscount.values import Frame

Make = Callable[[], Camera]


@pytest.fixture
def frames() -> list[Frame]:
    return film([empty((48, 32), GREY + k % 3) for k in range(12)])


@pytest.fixture
def clip(tmp_path: Path, frames: list[Frame]) -> Path:
    path = tmp_path / "clip.mp4"
    with ClipWriter(path, 32, 48) as writer:
        for frame in frames:
            writer.write(frame.pixels, frame.t_ns)
    return path


@pytest.fixture
def folder(tmp_path: Path, frames: list[Frame]) -> Path:
    made = tmp_path / "pictures"
    made.mkdir()
    for frame in frames:
        cv2.imwrite(str(made / f"shot-{frame.index:03d}.png"), frame.pixels)
    return made


def test_playback_and_stills_hold(clip: Path, folder: Path) -> None:
    check_camera(lambda: PlaybackCamera(clip), frames=12)
    check_camera(lambda: StillsCamera(folder), frames=12)


def test_a_fake_camera_holds(frames: list[Frame]) -> None:
    check_camera(lambda: FakeCamera(frames), frames=12)


def test_a_replay_holds(clip: Path) -> None:
    aim = Aim(address=str(clip))
    check_camera(lambda: ReplayCamera(ReplayOptions(speed=20), aim), frames=12)


def test_a_rendered_scene_holds(tmp_path: Path) -> None:
    scene = field_scene(parts=1, lead_in_frames=8, frames_after=4, width_px=24, height_px=32)
    path = tmp_path / "scene.yaml"
    path.write_text(scene_text(scene.scene), encoding="utf-8")
    aim = Aim(address=str(path))
    check_camera(lambda: RenderedCamera(RenderedOptions(speed=50), aim), frames=12)


def test_a_folder_that_is_full_already_holds(folder: Path) -> None:
    for k, path in enumerate(sorted(folder.iterdir())):
        os.utime(path, ns=(k * 8_000_000, k * 8_000_000))
    options = FillingOptions(old=True, look_ms=1.0, silent_s=0.2)
    check_camera(lambda: FillingFolderCamera(options, Aim(address=str(folder))), frames=12)


class FakeCapture:
    """What is used of OpenCV's capture: gives grey pictures, each at once."""

    def __init__(self, pictures: Sequence[np.ndarray]) -> None:
        self.pictures = list(pictures)
        self.asked: dict[int, float] = {}
        self.next = 0
        self.open = True

    def isOpened(self) -> bool:
        return self.open

    def get(self, prop: int) -> float:
        return self.asked.get(prop, 0.0)

    def set(self, prop: int, value: float) -> bool:
        self.asked[prop] = value
        return True

    def grab(self) -> bool:
        self.next += 1
        return self.open and self.next <= len(self.pictures)

    def retrieve(self) -> tuple[bool, np.ndarray]:
        return True, self.pictures[self.next - 1]

    def release(self) -> None:
        self.open = False


def device(pictures: Sequence[np.ndarray], **options: object) -> DeviceCamera:
    asked = DeviceOptions(settle_s=0, backend="v4l2", pixel_format="GREY", **options)
    return DeviceCamera(
        asked,
        Aim(address="0"),
        open_capture=lambda place, backend: FakeCapture(pictures),
        rate_kept=lambda path: True,
    )


def test_a_device_holds(frames: list[Frame]) -> None:
    check_camera(lambda: device([f.pixels.copy() for f in frames]), frames=12)


def test_every_built_in_camera_is_checked_here() -> None:
    checked = {"device", "stream", "folder", "replay", "scene"}
    assert set(load_plugins().cameras) == checked


def test_an_entry_is_checked_with_its_camera(clip: Path) -> None:
    entry = load_plugins().cameras["replay"].entry
    check_camera_entry(entry, Aim(address=str(clip)), ReplayOptions(speed=20), frames=12)
    with pytest.raises(AssertionError, match="interface 2"):
        check_camera_entry(replace(entry, api=2), Aim(address=str(clip)))


class Wrong(FakeCamera):
    """A camera that changes what it gives."""

    def __init__(self, frames: Sequence[Frame], change: Callable[[Frame], Frame]) -> None:
        super().__init__(frames)
        self._change = change

    def frames(self) -> Iterator[Frame]:
        for frame in super().frames():
            yield self._change(frame)


def late_start(frame: Frame) -> Frame:
    return replace(frame, t_ns=frame.t_ns + 5)


def backwards(frame: Frame) -> Frame:
    return replace(frame, t_ns=frame.t_ns if frame.index < 3 else 1)


def skipping(frame: Frame) -> Frame:
    return replace(frame, index=2 * frame.index)


def writable(frame: Frame) -> Frame:
    return replace(frame, pixels=frame.pixels.copy())


def younger_than_now(frame: Frame) -> Frame:
    return replace(frame, age_ns=-1)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (late_start, "the first frame has time 5 ns"),
        (backwards, "frame 3 is not later"),
        (skipping, "frame 0 is followed by 2"),
        (writable, "can be written to"),
        (younger_than_now, "is -1 ns old"),
    ],
)
def test_the_kit_names_what_is_wrong(
    frames: list[Frame], change: Callable[[Frame], Frame], said: str
) -> None:
    with pytest.raises(AssertionError, match=said):
        check_camera(lambda: Wrong(frames, change), frames=12)


def test_the_kit_finds_memory_that_is_used_again(frames: list[Frame]) -> None:
    buffer = np.zeros((48, 32), np.uint8)

    def shared(frame: Frame) -> Frame:
        buffer[:] = frame.pixels
        shown = buffer[:]
        shown.flags.writeable = False
        return replace(frame, pixels=shown)

    with pytest.raises(AssertionError, match="its memory was used again"):
        check_camera(lambda: Wrong(frames, shared), frames=12)


def test_the_kit_finds_an_endless_camera(frames: list[Frame]) -> None:
    class Endless(Wrong):
        def close(self) -> None:
            pass

        def __exit__(self, *error: object) -> None:
            pass

    with pytest.raises(AssertionError, match="frames came after close"):
        check_camera(lambda: Endless(frames * 1, lambda frame: frame), frames=5)


def test_entry_is_of_the_public_kind() -> None:
    assert isinstance(load_plugins().cameras["stream"].entry, Entry)


def test_a_stream_holds(frames: list[Frame]) -> None:
    with MjpegServer([f.pixels for f in frames], rate_hz=400) as server:
        aim = Aim(address=server.url)
        check_camera(lambda: StreamCamera(StreamOptions(silent_s=2), aim), frames=20)
