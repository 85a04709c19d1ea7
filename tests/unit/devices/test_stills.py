"""Still pictures as a camera: order, times, depths, damage."""

import threading
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.devices.cameras.stills import StillsCamera
from viscount.errors import SourceError, UsageError
from viscount.seams import Camera
from viscount.values import Frame, Level


def noise(count: int) -> NDArray[np.uint8]:
    return np.random.default_rng(3).integers(0, 256, (count, 37, 51), dtype=np.uint8)


def save(path: Path, picture: NDArray[np.uint8] | NDArray[np.uint16]) -> Path:
    assert cv2.imwrite(str(path), picture)
    return path


def shown(path: Path, rate_hz: float | None = None) -> tuple[list[Frame], StillsCamera]:
    with StillsCamera(path, rate_hz=rate_hz) as camera:
        return list(camera.frames()), camera


def levels(camera: StillsCamera) -> dict[Code, Level]:
    return {notice.code: notice.level for notice in camera.notices()}


@pytest.mark.parametrize("suffix", [".png", ".bmp", ".tif", ".pgm", ".PNG"])
def test_a_folder_is_shown_in_the_order_of_its_numbers(tmp_path: Path, suffix: str) -> None:
    for number, picture in enumerate(noise(12), start=1):
        save(tmp_path / f"shot{number}{suffix}", picture)
    frames, camera = shown(tmp_path, rate_hz=50)
    assert isinstance(camera, Camera)
    assert [frame.index for frame in frames] == list(range(12))
    assert [frame.seq for frame in frames] == list(range(1, 13))
    assert [frame.t_ns for frame in frames] == [k * 20_000_000 for k in range(12)]
    for frame, picture in zip(frames, noise(12), strict=True):
        np.testing.assert_array_equal(frame.pixels, picture)
        assert not frame.pixels.flags.writeable
    assert camera.notices() == ()


def readers() -> list[threading.Thread]:
    return [one for one in threading.enumerate() if one.name == "read ahead"]


def test_pictures_read_ahead_are_the_same(tmp_path: Path) -> None:
    for number, picture in enumerate(noise(12)):
        save(tmp_path / f"{number}.png", picture)
    (tmp_path / "5.png").write_bytes(b"no picture")
    plain, of_plain = shown(tmp_path, rate_hz=50)
    with StillsCamera(tmp_path, rate_hz=50, ahead=True) as camera:
        twice = [list(camera.frames()) for _ in range(2)]
    assert readers() == []
    assert len(plain) == 11
    for frames in twice:
        assert [(f.seq, f.t_ns) for f in frames] == [(f.seq, f.t_ns) for f in plain]
        assert all(np.array_equal(f.pixels, p.pixels) for f, p in zip(frames, plain, strict=True))
    assert camera.report() == of_plain.report()


def test_pictures_that_are_read_ahead_can_be_left(tmp_path: Path) -> None:
    for number, picture in enumerate(noise(12)):
        save(tmp_path / f"{number}.png", picture)
    with StillsCamera(tmp_path, rate_hz=50, ahead=True) as camera:
        frames = camera.frames()
        next(frames)
        again = camera.frames()
        next(again)
        assert len(readers()) == 1
    assert list(again) == []
    assert readers() == []
    assert camera.report().read == 1
    assert not camera.report().ended


@pytest.mark.parametrize("suffix", [".jpg", ".webp"])
def test_lossy_pictures(tmp_path: Path, suffix: str) -> None:
    smooth = cv2.GaussianBlur(noise(1)[0], (0, 0), 4)
    save(tmp_path / f"shot{suffix}", smooth)
    frames, _ = shown(tmp_path)
    assert np.abs(frames[0].pixels.astype(int) - smooth).mean() < 3


def test_a_rate_that_nobody_stated_is_assumed_and_said(tmp_path: Path) -> None:
    for number, picture in enumerate(noise(4)):
        save(tmp_path / f"{number}.png", picture)
    frames, camera = shown(tmp_path)
    assert [frame.t_ns for frame in frames] == [0, 33_333_333, 66_666_667, 100_000_000]
    assert levels(camera) == {Code.CLOCK_ASSUMED: Level.INFO}
    assert "30 a second" in camera.notices()[0].text


def test_a_missing_number_is_a_lost_frame(tmp_path: Path) -> None:
    for number, picture in enumerate(noise(20)):
        if number not in (7, 8):
            save(tmp_path / f"cam2_{number:04}.png", picture)
    frames, camera = shown(tmp_path, rate_hz=100)
    assert [frame.t_ns // 10_000_000 for frame in frames] == [frame.seq for frame in frames]
    assert camera.report().lost == 2
    assert levels(camera) == {Code.FRAMES_LOST: Level.INFO}


@pytest.mark.parametrize(
    "names",
    [
        ["10-00-01_3", "10-00-02_4", "10-00-03_5"],  # a time and a number
        ["1699000000123", "1699000000164", "1699000000206"],  # a clock, no count
        ["empty", "first", "last"],
    ],
)
def test_names_without_a_running_number(tmp_path: Path, names: list[str]) -> None:
    for name, picture in zip(names, noise(3), strict=True):
        save(tmp_path / f"{name}.png", picture)
    frames, camera = shown(tmp_path, rate_hz=100)
    assert [frame.seq for frame in frames] == [None] * 3
    assert [frame.t_ns // 10_000_000 for frame in frames] == [0, 1, 2]
    assert camera.report().lost == 0


def test_a_picture_that_cannot_be_decoded_is_counted(tmp_path: Path) -> None:
    for number, picture in enumerate(noise(10)):
        save(tmp_path / f"{number}.png", picture)
    (tmp_path / "4.png").write_bytes(b"no picture")
    (tmp_path / "6.png").write_bytes(b"")
    (tmp_path / "notes.txt").write_text("not one of them", encoding="ascii")
    (tmp_path / "._3.png").write_bytes(b"left by another system")
    frames, camera = shown(tmp_path, rate_hz=100)
    assert [frame.seq for frame in frames] == [0, 1, 2, 3, 5, 7, 8, 9]
    assert [frame.index for frame in frames] == list(range(8))
    assert camera.report().damaged == 2
    assert levels(camera)[Code.FRAMES_DAMAGED] is Level.DOUBT


def test_times_count_from_the_first_picture_that_can_be_read(tmp_path: Path) -> None:
    for number, picture in enumerate(noise(4)):
        save(tmp_path / f"{number}.png", picture)
    (tmp_path / "0.png").write_bytes(b"no picture")
    frames, camera = shown(tmp_path, rate_hz=100)
    assert [frame.t_ns // 10_000_000 for frame in frames] == [0, 1, 2]
    assert [frame.seq for frame in frames] == [1, 2, 3]
    assert camera.report().damaged == 1


def test_a_repeated_picture_is_marked(tmp_path: Path) -> None:
    for number, index in enumerate([0, 1, 1, 2]):
        save(tmp_path / f"{number}.png", noise(3)[index])
    frames, camera = shown(tmp_path, rate_hz=100)
    assert [frame.repeated for frame in frames] == [False, False, True, False]
    assert camera.report().repeated_at == (2,)


def test_a_jpeg_cut_short_is_damaged(tmp_path: Path) -> None:
    for number, picture in enumerate(noise(3)):
        save(tmp_path / f"{number}.jpg", picture)
    data = (tmp_path / "1.jpg").read_bytes()
    (tmp_path / "1.jpg").write_bytes(data[: len(data) // 2])
    _, camera = shown(tmp_path, rate_hz=100)
    # Some versions of OpenCV decode what is there, others nothing.
    assert camera.report().damaged == 1


def test_a_picture_of_another_size_is_counted_as_damaged(tmp_path: Path) -> None:
    for number, picture in enumerate(noise(3)):
        save(tmp_path / f"{number}.png", picture[:, : 51 - number // 2])
    frames, camera = shown(tmp_path, rate_hz=100)
    assert len(frames) == 2
    assert camera.report().damaged == 1


@pytest.mark.parametrize("suffix", [".png", ".tif"])
def test_colour_becomes_grey(tmp_path: Path, suffix: str) -> None:
    colour = np.random.default_rng(1).integers(0, 256, (37, 51, 3), dtype=np.uint8)
    save(tmp_path / f"shot{suffix}", colour)
    (frame,), _ = shown(tmp_path / f"shot{suffix}")
    expected = cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY).astype(int)
    assert np.abs(frame.pixels.astype(int) - expected).max() <= 1


@pytest.mark.parametrize("suffix", [".png", ".tif"])
@pytest.mark.parametrize("bits", [16, 14, 12, 10])
def test_sixteen_bits_are_brought_down(tmp_path: Path, suffix: str, bits: int) -> None:
    for number, picture in enumerate(noise(2)):
        save(tmp_path / f"{number}{suffix}", picture.astype(np.uint16) << (bits - 8))
    frames, camera = shown(tmp_path, rate_hz=100)
    for frame, picture in zip(frames, noise(2), strict=True):
        assert frame.pixels.dtype == np.uint8
        np.testing.assert_array_equal(frame.pixels, picture)
    expected = {} if bits == 16 else {Code.GREY_DEPTH_ASSUMED: Level.INFO}
    assert levels(camera) == expected


def test_a_depth_that_proves_wrong_is_doubtful(tmp_path: Path) -> None:
    save(tmp_path / "0.png", noise(1)[0].astype(np.uint16) << 2)
    save(tmp_path / "1.png", noise(1)[0].astype(np.uint16) << 8)
    frames, camera = shown(tmp_path, rate_hz=100)
    assert frames[1].pixels.max() == 255
    assert levels(camera)[Code.GREY_DEPTH_ASSUMED] is Level.DOUBT


def test_a_tiff_of_many_pages(tmp_path: Path) -> None:
    path = tmp_path / "stack.tif"
    assert cv2.imwritemulti(str(path), list(noise(20)))
    frames, camera = shown(path, rate_hz=100)
    assert [frame.t_ns // 10_000_000 for frame in frames] == list(range(20))
    for frame, picture in zip(frames, noise(20), strict=True):
        np.testing.assert_array_equal(frame.pixels, picture)
    assert camera.notices() == ()


def test_a_tiff_cut_short_is_incomplete(tmp_path: Path) -> None:
    path = tmp_path / "stack.tif"
    assert cv2.imwritemulti(str(path), list(noise(20)))
    data = path.read_bytes()
    path.write_bytes(data[: len(data) * 6 // 10])
    frames, camera = shown(path, rate_hz=100)
    assert 8 <= len(frames) <= 12
    assert levels(camera)[Code.RECORDING_INCOMPLETE] is Level.DOUBT


@pytest.mark.skipif(
    not hasattr(cv2, "imwriteanimation"), reason="this OpenCV writes no moving pictures"
)
def test_a_moving_webp_has_times_of_its_own(tmp_path: Path) -> None:
    animation = cv2.Animation()
    animation.frames = [np.dstack([p] * 3 + [np.full_like(p, 255)]) for p in noise(4)]
    animation.durations = [40, 40, 80, 40]
    path = tmp_path / "moving.webp"
    assert cv2.imwriteanimation(str(path), animation, [cv2.IMWRITE_WEBP_QUALITY, 101])
    frames, camera = shown(path)
    assert [frame.t_ns // 1_000_000 for frame in frames] == [0, 40, 80, 160]
    for frame, picture in zip(frames, noise(4), strict=True):
        assert np.abs(frame.pixels.astype(int) - picture).max() <= 1
    assert levels(camera).keys() <= {Code.FRAMES_LOST, Code.CLOCK_VARIES}


def test_each_call_begins_at_the_first_picture(tmp_path: Path) -> None:
    for number, picture in enumerate(noise(3)):
        save(tmp_path / f"{number}.png", picture)
    with StillsCamera(tmp_path) as camera:
        assert next(camera.frames()).index == 0
        assert len(list(camera.frames())) == 3
        assert camera.report().read == 3


def test_a_folder_without_pictures(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("nothing to see", encoding="ascii")
    with pytest.raises(SourceError, match="holds no pictures"):
        StillsCamera(tmp_path)


def test_a_folder_of_damaged_pictures(tmp_path: Path) -> None:
    (tmp_path / "1.png").write_bytes(b"no picture")
    with pytest.raises(SourceError, match="not one picture"):
        StillsCamera(tmp_path)


@pytest.mark.parametrize("rate_hz", [0, -1, float("nan"), float("inf")])
def test_rates_out_of_range(tmp_path: Path, rate_hz: float) -> None:
    save(tmp_path / "1.png", noise(1)[0])
    with pytest.raises(UsageError):
        StillsCamera(tmp_path, rate_hz=rate_hz)
