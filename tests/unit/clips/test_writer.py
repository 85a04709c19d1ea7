"""Clips we write: exact times, kept pixels, whole files."""

from pathlib import Path

import av
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from viscount.clips.reader import ClipReader
from viscount.clips.writer import ClipWriter, Codec
from viscount.errors import UsageError

RNG_SEED = 8


def noisy(count: int, height: int, width: int) -> NDArray[np.uint8]:
    rng = np.random.default_rng(RNG_SEED)
    pictures = rng.normal(100, 2, (count, height, width)).astype(np.uint8)
    for number, picture in enumerate(pictures):
        top = 3 * number % height
        picture[top : top + height // 4, width // 3 : width // 2] = 40
    return pictures


def uneven_ns(count: int) -> list[int]:
    """Microseconds, as a camera's clock gives them; the first is not zero."""
    rng = np.random.default_rng(RNG_SEED)
    return (5_000_000 + np.cumsum(rng.integers(3_000, 9_000, count)) * 1000).tolist()


def write(path: Path, pictures: NDArray[np.uint8], times: list[int], codec: Codec) -> Path:
    _, height, width = pictures.shape
    with ClipWriter(path, width, height, codec=codec) as clip:
        for picture, t_ns in zip(pictures, times, strict=True):
            clip.write(picture, t_ns)
    return path


@pytest.mark.parametrize("codec", ["h264", "ffv1"])
@pytest.mark.parametrize("size", [(120, 160), (121, 161), (120, 161), (9, 17), (2, 2)])
def test_what_is_written_comes_back(tmp_path: Path, codec: Codec, size: tuple[int, int]) -> None:
    pictures, times = noisy(150, *size), uneven_ns(150)
    with ClipReader(write(tmp_path / "pour.mp4", pictures, times, codec)) as clip:
        seen = list(clip)
        report = clip.report()
    assert [picture.t_ns for picture in seen] == [t - times[0] for t in times]
    errors = np.array([picture.pixels for picture in seen]).astype(int) - pictures
    if codec == "ffv1":
        assert not errors.any()
    else:
        # No range is stretched: the mean stays, however large the codec's noise.
        assert abs(errors.mean()) < 0.3
        assert np.abs(errors).mean() < 3
    assert (report.read, report.damaged, report.untimed) == (150, 0, 0)
    assert not report.incomplete
    # The last picture is held as long as the one before it.
    held_s = (2 * times[-1] - times[-2] - times[0]) / 1e9
    assert report.header.duration_s == pytest.approx(held_s, abs=1e-9)


def test_h264_can_be_lossless(tmp_path: Path) -> None:
    pictures = noisy(10, 48, 64)
    with ClipWriter(tmp_path / "pour.mp4", 64, 48, crf=0) as writer:
        for number, picture in enumerate(pictures):
            writer.write(picture, number * 8_000_000)
    with ClipReader(tmp_path / "pour.mp4") as clip:
        for picture, expected in zip(clip, pictures, strict=True):
            np.testing.assert_array_equal(picture.pixels, expected)


def test_h264_is_made_in_one_thread_whatever_the_machine(tmp_path: Path) -> None:
    """x264 writes its settings into the first picture; slices follow the number of threads."""
    path = write(tmp_path / "pour.mp4", noisy(2, 480, 640), [0, 8_000_000], "h264")
    stored = path.read_bytes()
    assert b" threads=1 " in stored
    assert b" sliced_threads=0 " in stored


@pytest.mark.parametrize("size", [(120, 160), (121, 161)])
def test_jpeg_pictures_are_coarser_the_higher_their_scale(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    pictures, times = noisy(12, *size), uneven_ns(12)
    errors, sizes = [], []
    for qscale in (2, 12, 31):
        path = tmp_path / f"{qscale}.mp4"
        with ClipWriter(path, size[1], size[0], codec="mjpeg", qscale=qscale) as writer:
            for picture, t_ns in zip(pictures, times, strict=True):
                writer.write(picture, t_ns)
        with ClipReader(path) as clip:
            seen = list(clip)
        assert [picture.t_ns for picture in seen] == [t - times[0] for t in times]
        off = np.array([picture.pixels for picture in seen]).astype(int) - pictures
        assert abs(off.mean()) < 0.5
        errors.append(np.abs(off).mean())
        sizes.append(path.stat().st_size)
    assert errors == sorted(errors)
    assert sizes == sorted(sizes, reverse=True)
    assert errors[0] < 2


@pytest.mark.parametrize("qscale", [1, 32])
def test_jpeg_scales_out_of_range(tmp_path: Path, qscale: int) -> None:
    with pytest.raises(UsageError, match="qscale"):
        ClipWriter(tmp_path / "pour.mp4", 16, 16, codec="mjpeg", qscale=qscale)


def test_opencv_reads_the_lossless_clip(tmp_path: Path) -> None:
    pictures = noisy(3, 48, 64)
    path = write(tmp_path / "pour.mp4", pictures, [0, 8_000_000, 16_000_000], "ffv1")
    capture = cv2.VideoCapture(str(path))
    for expected in pictures:
        decoded, colour = capture.read()
        assert decoded
        np.testing.assert_array_equal(colour[..., 0], expected)
    capture.release()


def test_opencv_sees_the_same_grey(tmp_path: Path) -> None:
    # Were the range not marked as full, 40 would come out as 28 (ITU-R BT.601).
    flat = np.repeat(np.array([[[40]], [[100]], [[230]]], np.uint8), 64 * 48).reshape(3, 48, 64)
    path = write(tmp_path / "pour.mp4", flat, [0, 8_000_000, 16_000_000], "h264")
    capture = cv2.VideoCapture(str(path))
    for expected in flat:
        decoded, colour = capture.read()
        assert decoded
        assert np.abs(colour.astype(int) - int(expected[0, 0])).max() <= 2
    capture.release()


def test_a_key_frame_every_quarter_second_and_no_reordering(tmp_path: Path) -> None:
    times = [k * 8_000_000 for k in range(150)]
    path = write(tmp_path / "pour.mp4", noisy(150, 48, 64), times, "h264")
    with av.open(path) as container:
        packets = [p for p in container.demux(video=0) if p.size]
    assert [p.pts for p in packets] == [p.dts for p in packets] == [t // 1000 for t in times]
    keys = [p.pts for p in packets if p.is_keyframe]
    assert keys == [0, 256_000, 512_000, 768_000, 1_024_000]


def test_times_are_rounded_to_the_microsecond_without_drift(tmp_path: Path) -> None:
    times = [round(k * 1e9 / 120) for k in range(121)]
    path = write(tmp_path / "pour.mp4", noisy(121, 16, 16), times, "ffv1")
    with ClipReader(path) as clip:
        seen = [picture.t_ns for picture in clip]
    assert np.abs(np.array(seen) - times).max() <= 500
    assert seen[120] == 1_000_000_000


def test_the_name_appears_when_the_clip_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "pour.mp4"
    path.write_bytes(b"an older clip")
    writer = ClipWriter(path, 16, 16)
    for number, picture in enumerate(noisy(3, 16, 16)):
        writer.write(picture, number * 8_000_000)
    assert path.read_bytes() == b"an older clip"
    assert writer.partial.exists()
    writer.close()
    writer.close()
    assert [file.name for file in tmp_path.iterdir()] == ["pour.mp4"]
    with ClipReader(path) as clip:
        assert len(list(clip)) == 3


def test_an_exception_leaves_the_partial_clip(tmp_path: Path) -> None:
    partial = tmp_path / "pour.partial.mp4"

    def fail_after(pictures: NDArray[np.uint8]) -> None:
        with ClipWriter(tmp_path / "pour.mp4", 16, 16) as writer:
            for number, picture in enumerate(pictures):
                writer.write(picture, number * 8_000_000)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_after(noisy(3, 16, 16))
    assert list(tmp_path.iterdir()) == [partial]
    with ClipReader(partial) as clip:
        assert len(list(clip)) == 3
        assert clip.report().incomplete


def test_a_clip_of_one_picture(tmp_path: Path) -> None:
    path = write(tmp_path / "pour.mp4", noisy(1, 16, 16), [77], "h264")
    with ClipReader(path) as clip:
        assert [picture.t_ns for picture in clip] == [0]
        assert not clip.report().incomplete


def test_a_clip_without_a_picture_leaves_nothing(tmp_path: Path) -> None:
    writer = ClipWriter(tmp_path / "pour.mp4", 16, 16)
    with pytest.raises(UsageError, match="without a picture"):
        writer.close()
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("name", "width", "height", "codec", "crf"),
    [
        ("pour.mkv", 16, 16, "h264", 18),
        ("missing/pour.mp4", 16, 16, "h264", 18),
        ("pour.mp4", 1, 16, "h264", 18),
        ("pour.mp4", 16, 16, "mpeg2", 18),
        ("pour.mp4", 16, 16, "h264", 52),
    ],
)
def test_parameters_out_of_range(
    tmp_path: Path, name: str, width: int, height: int, codec: Codec, crf: int
) -> None:
    with pytest.raises(UsageError):
        ClipWriter(tmp_path / name, width, height, codec=codec, crf=crf)
    assert not list(tmp_path.iterdir())


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "pour.partial.mp4").mkdir()
    with pytest.raises(UsageError, match="cannot be created"):
        ClipWriter(tmp_path / "pour.mp4", 16, 16)


def test_pictures_that_do_not_fit_are_refused(tmp_path: Path) -> None:
    with ClipWriter(tmp_path / "pour.mp4", 16, 16) as clip:
        clip.write(np.zeros((16, 16), np.uint8), 1_000_000)
        for picture, t_ns in [
            (np.zeros((16, 18), np.uint8), 2_000_000),
            (np.zeros((16, 16), np.uint16), 2_000_000),
            (np.zeros((16, 16), np.uint8), 1_000_400),
            (np.zeros((16, 16), np.uint8), 0),
        ]:
            with pytest.raises(UsageError):
                clip.write(picture, t_ns)  # type: ignore[arg-type]
        clip.write(np.zeros((16, 16), np.uint8), 2_000_000)
    with pytest.raises(UsageError, match="closed"):
        clip.write(np.zeros((16, 16), np.uint8), 3_000_000)
    with ClipReader(tmp_path / "pour.mp4") as reader:
        assert [picture.t_ns for picture in reader] == [0, 1_000_000]
