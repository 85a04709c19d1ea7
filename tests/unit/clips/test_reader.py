"""Reading whole clips: times, turned pictures, repeats, tags, slow motion."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from viscount.clips.reader import ClipReader
from viscount.clips.report import ClipReport
from viscount.errors import UsageError

ClipMaker = Callable[..., Path]
Pixels = NDArray[np.uint8]

# Without B-frames, as cameras write.
H264 = {
    "codec": "libx264",
    "pix_fmt": "yuv420p",
    "codec_options": {"tune": "zerolatency", "crf": "18"},
}
MJPEG = {"codec": "mjpeg", "pix_fmt": "yuvj420p"}


def numbered(count: int, height: int = 120, width: int = 160) -> list[Pixels]:
    """Pictures that show their number in eight binary digits."""
    digit = width // 10
    pictures = []
    for number in range(count):
        picture = np.full((height, width), 100, np.uint8)
        for bit in range(8):
            x = digit * (bit + 1)
            picture[height // 6 : height // 2, x : x + digit - 2] = 200 if number >> bit & 1 else 40
        pictures.append(picture)
    return pictures


def read(path: Path, **options: float) -> tuple[list[int], list[Pixels], ClipReport]:
    with ClipReader(path, **options) as clip:  # type: ignore[arg-type]
        pictures = list(clip)
        return [p.t_ns for p in pictures], [p.pixels for p in pictures], clip.report()


def field_clip() -> tuple[list[Pixels], list[int]]:
    """40 numbered frames, 120 ms before frame 20, frame 30 the same as frame 29."""
    intervals = [Fraction(100, 3)] * 39
    intervals[19] = Fraction(120)
    stamps = [round(sum(intervals[:k], Fraction(0))) for k in range(40)]
    pictures = numbered(40)
    pictures[30] = pictures[29]
    return pictures, stamps


@pytest.mark.parametrize(
    ("name", "codec"),
    [("clip.mp4", H264), ("clip.mkv", H264), ("clip.avi", MJPEG), ("lossless.mkv", {})],
)
def test_three_containers(write_clip: ClipMaker, name: str, codec: dict[str, str]) -> None:
    # Stamps are those of a field case; header numbers are wrong in each container.
    pictures, stamps = field_clip()
    times, _, report = read(write_clip(name, pictures, stamps, **codec))
    assert times == [stamp * 1_000_000 for stamp in stamps]
    assert report.read == 40
    assert report.pace is not None
    assert report.pace.interval_ns == pytest.approx(33.3e6, abs=0.1e6)
    assert [(gap.frame, gap.interval_ns) for gap in report.gaps] == [(20, 120_000_000)]
    assert report.lost == 3
    assert report.repeated_at == (30,)
    assert report.damaged == report.untimed == 0
    assert report.ended
    assert not report.incomplete


@pytest.mark.parametrize(
    ("codec", "lossless"),
    [(H264, False), (MJPEG, False), ({}, True)],
    ids=["h264", "mjpeg", "ffv1"],
)
def test_only_a_codec_that_keeps_every_pixel_is_lossless(
    write_clip: ClipMaker, codec: dict[str, str], lossless: bool
) -> None:
    with ClipReader(write_clip("clip.mkv", numbered(5), range(0, 200, 40), **codec)) as clip:
        assert clip.header.lossless is lossless


@pytest.mark.parametrize("codec", [MJPEG, {}], ids=["mjpeg", "ffv1"])
def test_the_clip_cut_to_sixty_percent(write_clip: ClipMaker, codec: dict[str, str]) -> None:
    pictures, stamps = field_clip()
    whole = write_clip("clip.mkv", pictures, stamps, **codec)
    _, expected, _ = read(whole)
    cut = whole.with_name("cut.mkv")
    data = whole.read_bytes()
    cut.write_bytes(data[: len(data) * 6 // 10])
    times, seen, report = read(cut)
    assert 15 <= report.read <= 30
    assert times == [stamp * 1_000_000 for stamp in stamps[: len(times)]]
    for one, other in zip(seen, expected, strict=False):
        np.testing.assert_array_equal(one, other)
    assert report.header.duration_s == pytest.approx(1.42, abs=0.05)
    assert report.incomplete


def test_times_are_exact_for_any_time_base(write_clip: ClipMaker) -> None:
    # 29.97 Hz is 30000/1001 (SMPTE 12M); stamps count 1/30000 s.
    stamps = [500 + 1001 * k for k in range(100)]
    path = write_clip("clip.mp4", numbered(100), stamps, time_base=Fraction(1, 30_000), **H264)
    times, _, report = read(path)
    assert times == [round(Fraction(k * 1001 * 10**9, 30_000)) for k in range(100)]
    assert report.rate_hz == pytest.approx(29.97003, abs=1e-5)


def test_reordered_pictures_come_in_order_of_presentation(write_clip: ClipMaker) -> None:
    stamps = [40 * k for k in range(60)]
    options = {"bf": "3", "x264-params": "b-adapt=0", "crf": "12"}
    path = write_clip(
        "clip.mkv", numbered(60), stamps, codec="libx264", pix_fmt="yuv420p", codec_options=options
    )
    times, seen, report = read(path)
    assert times == [stamp * 1_000_000 for stamp in stamps]
    for picture, expected in zip(seen, numbered(60), strict=True):
        assert np.abs(picture.astype(int) - expected).mean() < 2
    assert report.untimed == 0


@pytest.mark.parametrize(
    ("codec", "options"), [("mpeg4", {"bf": "2"}), ("libx264", {"bf": "3", "crf": "12"})]
)
@pytest.mark.parametrize("threads", [1, None])
def test_avi_with_reordered_pictures(
    write_clip: ClipMaker, codec: str, options: dict[str, str], threads: int | None
) -> None:
    # AVI has no times of presentation: what is known is the order of the pictures.
    path = write_clip(
        "clip.avi",
        numbered(50),
        list(range(50)),
        time_base=Fraction(1, 25),
        codec=codec,
        pix_fmt="yuv420p",
        codec_options=options,
    )
    with ClipReader(path, threads=threads) as clip:
        pictures = list(clip)
        report = clip.report()
    assert [picture.t_ns for picture in pictures] == [k * 40_000_000 for k in range(50)]
    for picture, expected in zip(pictures, numbered(50), strict=True):
        assert np.abs(picture.pixels.astype(int) - expected).mean() < 4
    assert report.untimed == 0
    assert not report.incomplete


@pytest.mark.parametrize("threads", [1, 2, None])
def test_decoder_threads_change_nothing(write_clip: ClipMaker, threads: int | None) -> None:
    pictures, stamps = field_clip()
    path = write_clip("clip.mp4", pictures, stamps, **H264)
    expected_times, expected, _ = read(path)
    with ClipReader(path, threads=threads) as clip:
        for picture, t_ns, pixels in zip(clip, expected_times, expected, strict=True):
            assert picture.t_ns == t_ns
            np.testing.assert_array_equal(picture.pixels, pixels)


def test_raw_colour_in_a_small_avi(tmp_path: Path) -> None:
    # OpenCV 5.0's own reader can abort the process on such a file.
    path = tmp_path / "raw.avi"
    colours = np.random.default_rng(5).integers(0, 256, (6, 49, 67, 3), dtype=np.uint8)
    with av.open(path, "w") as container:
        stream = container.add_stream("rawvideo", rate=30)
        stream.width, stream.height, stream.pix_fmt = 67, 49, "bgr24"
        for colour in colours:
            container.mux(stream.encode(av.VideoFrame.from_ndarray(colour, "bgr24")))
    times, seen, report = read(path)
    assert report.header.codec == "rawvideo"
    assert times == [round(Fraction(k * 10**9, 30)) for k in range(6)]
    for pixels, colour in zip(seen, colours, strict=True):
        expected = cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY).astype(int)
        assert np.abs(pixels.astype(int) - expected).max() <= 1


def test_a_gif_has_times_of_its_own(write_clip: ClipMaker) -> None:
    pictures = numbered(6)
    path = write_clip(
        "clip.gif", pictures, [0, 4, 8, 12, 20, 24], time_base=Fraction(1, 100), codec="gif"
    )
    times, seen, report = read(path)
    assert times == [t * 10_000_000 for t in (0, 4, 8, 12, 20, 24)]
    for pixels, picture in zip(seen, pictures, strict=True):
        np.testing.assert_array_equal(pixels, picture)
    assert [gap.frame for gap in report.gaps] == [4]


def test_pictures_of_another_size_are_not_handed_on(write_clip: ClipMaker) -> None:
    one = write_clip("one.h264", numbered(5), list(range(5)), **H264)
    two = write_clip("two.h264", numbered(3, 60, 80), list(range(3)), **H264)
    both = one.with_name("both.h264")
    both.write_bytes(one.read_bytes() + two.read_bytes())
    _, seen, report = read(both)
    assert [pixels.shape for pixels in seen] == [(120, 160)] * 5
    assert report.damaged == 3


def patch_matrix(path: Path, matrix: tuple[int, int, int, int]) -> Path:
    """Write a, b, c, d into the track header of an MP4 file (ISO/IEC 14496-12, "tkhd")."""
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 44
    for place, value in zip((0, 4, 12, 16), matrix, strict=True):
        data[at + place : at + place + 4] = (value * 65536).to_bytes(4, "big", signed=True)
    turned = path.with_name("turned.mp4")
    turned.write_bytes(data)
    return turned


def upright(write_clip: ClipMaker) -> Path:
    pictures = numbered(5, 48, 64)
    for picture in pictures:
        picture[40:, 40:] = 230
    return write_clip(
        "upright.mp4",
        pictures,
        [40 * k for k in range(5)],
        codec="libx264",
        pix_fmt="yuvj420p",
        codec_options={"crf": "10"},
    )


@pytest.mark.parametrize(
    ("matrix", "quarters"),
    [((1, 0, 0, 1), 0), ((0, 1, -1, 0), 3), ((-1, 0, 0, -1), 2), ((0, -1, 1, 0), 1)],
    ids=["0", "90 clockwise", "180", "90 anticlockwise"],
)
def test_turned_clips_agree_with_opencv(
    write_clip: ClipMaker, matrix: tuple[int, int, int, int], quarters: int
) -> None:
    stored = upright(write_clip)
    path = patch_matrix(stored, matrix)
    _, (plain, *_), _ = read(stored)
    _, (pixels, *_), report = read(path)
    np.testing.assert_array_equal(pixels, np.rot90(plain, quarters))
    assert not pixels.flags.owndata
    assert not pixels.flags.writeable
    assert (report.header.height, report.header.width) == pixels.shape
    capture = cv2.VideoCapture(str(path))
    decoded, colour = capture.read()
    capture.release()
    assert decoded
    theirs = cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY).astype(int)
    assert theirs.shape == pixels.shape
    assert np.abs(theirs - pixels).max() <= 3


@pytest.mark.parametrize(
    ("matrix", "flips"), [((-1, 0, 0, 1), np.s_[:, ::-1]), ((1, 0, 0, -1), np.s_[::-1, :])]
)
def test_mirrored_clips(
    write_clip: ClipMaker, matrix: tuple[int, int, int, int], flips: tuple[slice, slice]
) -> None:
    # libavutil/display.h: a point goes to (a x + c y, b x + d y).
    stored = upright(write_clip)
    _, (plain, *_), _ = read(stored)
    _, (pixels, *_), _ = read(patch_matrix(stored, matrix))
    np.testing.assert_array_equal(pixels, plain[flips])


def test_slow_motion_is_undone(write_clip: ClipMaker) -> None:
    stamps = [k * 512 for k in range(80)]
    path = write_clip("slow.mp4", numbered(80), stamps, time_base=Fraction(1, 15_360), **H264)
    times, _, report = read(path, capture_fps=240)
    assert times == [round(Fraction(k * 10**9, 240)) for k in range(80)]
    assert report.scale == pytest.approx(1 / 8)
    assert report.rate_hz == pytest.approx(240)
    assert not report.incomplete


def test_slow_motion_with_lost_frames_keeps_the_gaps(write_clip: ClipMaker) -> None:
    # The average rate in the header is a fifth too low here.
    kept = [k for k in range(100) if k % 10 < 8]
    path = write_clip("slow.mkv", numbered(80), [round(k * 100 / 3) for k in kept])
    times, _, report = read(path, capture_fps=240)
    np.testing.assert_allclose(times, np.array(kept) * 1e9 / 240, atol=0.1e6)
    assert report.lost == 18


@pytest.mark.parametrize(
    ("key", "value", "rate"),
    [
        ("com.android.capture.fps", "240.000000", 240.0),
        ("com.apple.quicktime.capture.fps", "240/1", 240.0),
        ("CaptureFrameRate", "119.88 fps", 119.88),
        ("com.apple.quicktime.full-frame-rate-playback-intent", "1", None),
        ("com.android.capture.fps", "unknown", None),
        ("com.android.capture.fps", "0", None),
    ],
)
def test_capture_rate_tags(write_clip: ClipMaker, key: str, value: str, rate: float | None) -> None:
    path = write_clip(
        "tagged.mp4",
        numbered(3),
        [0, 33, 67],
        metadata={key: value},
        container_options={"movflags": "use_metadata_tags"},
        **H264,
    )
    with ClipReader(path) as clip:
        assert clip.header.capture_hz == rate
        assert clip.header.capture_tag == (key if rate else None)


def test_tags_in_another_encoding_do_not_matter(write_clip: ClipMaker) -> None:
    path = write_clip("old.mp4", numbered(3), [0, 33, 67], metadata={"title": "Nuesse"}, **H264)
    path.write_bytes(path.read_bytes().replace(b"Nuesse", b"N\xfc\xdf e "))
    assert read(path)[2].read == 3


@pytest.mark.parametrize("name", ["bare.h264", "bare.mjpeg"])
def test_bare_streams_carry_no_times(write_clip: ClipMaker, name: str) -> None:
    codec = H264 if name.endswith("h264") else MJPEG
    _, _, report = read(write_clip(name, numbered(20), [40 * k for k in range(20)], **codec))
    assert report.read == 20
    assert not report.header.timed


@pytest.mark.parametrize(
    ("name", "codec", "pix_fmt", "options"),
    [
        ("clip.avi", "libx264", "yuv420p", {"bf": "3"}),
        ("clip.avi", "mjpeg", "yuvj420p", {}),
        ("clip.mkv", "libx264", "yuv420p", {"bf": "3"}),
        ("clip.mp4", "libx264", "yuv420p", {"bf": "3"}),
    ],
)
@pytest.mark.parametrize("capture_fps", [None, 240.0])
def test_times_are_known_before_decoding(
    write_clip: ClipMaker,
    name: str,
    codec: str,
    pix_fmt: str,
    options: dict[str, str],
    capture_fps: float | None,
) -> None:
    path = write_clip(
        name,
        numbered(50),
        list(range(50)),
        time_base=Fraction(1, 25),
        codec=codec,
        pix_fmt=pix_fmt,
        codec_options=options,
    )
    with ClipReader(path, capture_fps=capture_fps) as clip:
        known = clip.times_ns()
        assert known is not None
        assert known.tolist() == [picture.t_ns for picture in clip]


def test_times_of_a_bare_stream_are_not_known(write_clip: ClipMaker) -> None:
    with ClipReader(write_clip("clip.h264", numbered(9), range(0, 360, 40), **H264)) as clip:
        assert clip.times_ns() is None


def test_the_report_grows(write_clip: ClipMaker) -> None:
    pictures, stamps = field_clip()
    with ClipReader(write_clip("clip.mkv", pictures, stamps)) as clip:
        assert clip.report().read == 0
        for count, _ in enumerate(clip, start=1):
            report = clip.report()
            assert report.read == count
            assert report.lost == (3 if count > 20 else 0)
            assert report.repeated == (1 if count > 30 else 0)
            assert not report.ended
        assert clip.report().ended


def test_one_changed_pixel_makes_a_picture_new(write_clip: ClipMaker) -> None:
    pictures = [np.full((121, 161), 100, np.uint8) for _ in range(4)]
    pictures[1][53, 77] = 101
    pictures[2][53, 77] = 101
    _, _, report = read(write_clip("clip.mkv", pictures, [0, 40, 80, 120]))
    assert report.repeated_at == (2,)


def test_a_clip_is_read_once(write_clip: ClipMaker) -> None:
    with ClipReader(write_clip("clip.mkv", numbered(3), [0, 33, 67])) as clip:
        assert len(list(clip)) == 3
        with pytest.raises(UsageError, match="read already"):
            iter(clip)


@pytest.mark.parametrize("options", [{"threads": 0}, {"capture_fps": 0}, {"capture_fps": -1}])
def test_options_out_of_range(write_clip: ClipMaker, options: dict[str, float]) -> None:
    path = write_clip("clip.mkv", numbered(3), [0, 33, 67])
    with pytest.raises(UsageError):
        ClipReader(path, **options)  # type: ignore[arg-type]
