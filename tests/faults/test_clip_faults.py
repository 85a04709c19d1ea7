"""Damaged, cut, killed and mistaken clips: what can be read is read, and the rest is said."""

import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import av
import numpy as np
import pytest
from av.stream import Disposition
from av.video.frame import VideoFrame
from numpy.typing import NDArray

from viscount.clips import reader
from viscount.clips.ahead import MOST_READY
from viscount.clips.reader import ClipReader
from viscount.clips.writer import ClipWriter, Codec
from viscount.errors import SourceError

ClipMaker = Callable[..., Path]

CHILD = """
import sys
import numpy as np
from viscount.clips.writer import ClipWriter
rng = np.random.default_rng(1)
clip = ClipWriter(sys.argv[1], 160, 120, codec=sys.argv[2])
for k in range(200):
    clip.write(rng.normal(100, 2, (120, 160)).astype(np.uint8), k * 8_000_000)
print("written", flush=True)
sys.stdin.read()
"""


def noise(count: int) -> NDArray[np.uint8]:
    return np.random.default_rng(1).normal(100, 2, (count, 120, 160)).astype(np.uint8)


def own_clip(path: Path, codec: Codec, count: int = 100) -> Path:
    with ClipWriter(path, 160, 120, codec=codec) as clip:
        for k, picture in enumerate(noise(count)):
            clip.write(picture, k * 8_000_000)
    return path


def cut(path: Path, share: float) -> Path:
    data = path.read_bytes()
    shorter = path.with_name(f"cut{path.suffix}")
    shorter.write_bytes(data[: int(len(data) * share)])
    return shorter


@pytest.mark.parametrize("codec", ["h264", "ffv1"])
def test_a_killed_writer_leaves_nearly_all(tmp_path: Path, codec: Codec) -> None:
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(tmp_path / "pour.mp4"), codec],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    with child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"written\n"
        child.send_signal(signal.SIGKILL)
    assert [file.name for file in tmp_path.iterdir()] == ["pour.partial.mp4"]
    with ClipReader(tmp_path / "pour.partial.mp4") as clip:
        pictures = list(clip)
        report = clip.report()
    # Missing is what the last key frame began: at most 250 / 8 pictures of H.264, rounded up,
    # and one of FFV1, of which every picture is a key frame.
    assert len(pictures) >= 200 - {"h264": 32, "ffv1": 1}[codec]
    assert [picture.t_ns for picture in pictures] == [k * 8_000_000 for k in range(len(pictures))]
    assert report.damaged == 0
    assert report.incomplete


@pytest.mark.parametrize("codec", ["h264", "ffv1"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
def test_our_clip_cut_short(tmp_path: Path, codec: Codec, share: float) -> None:
    shorter = cut(own_clip(tmp_path / "pour.mp4", codec), share)
    with ClipReader(shorter) as clip:
        pictures = list(clip)
        report = clip.report()
    assert 100 * share - 40 < len(pictures) < 100
    assert report.lost == 0
    assert report.incomplete


def mjpeg_avi(write_clip: ClipMaker) -> tuple[bytearray, list[int]]:
    """The bytes of an AVI of 30 pictures, and where each picture begins."""
    path = write_clip("clip.avi", noise(30), range(0, 1200, 40), codec="mjpeg", pix_fmt="yuvj420p")
    with av.open(path) as container:
        places = [packet.pos for packet in container.demux(video=0) if packet.pos]
    return bytearray(path.read_bytes()), places


def test_a_recorder_killed_inside_a_picture(write_clip: ClipMaker, tmp_path: Path) -> None:
    data, places = mjpeg_avi(write_clip)
    # The length in the headers is filled in only when a recorder ends.
    for name, at in ((b"strh", 8 + 32), (b"avih", 8 + 16)):
        place = data.index(name) + at
        data[place : place + 4] = bytes(4)
    path = tmp_path / "killed.avi"
    path.write_bytes(data[: places[20] + 700])
    with ClipReader(path, threads=1) as clip:
        *_, last = clip
        report = clip.report()
    assert report.header.duration_s is None
    assert report.read == 21
    assert last.damaged
    assert report.incomplete


def test_an_avi_cut_between_two_pictures(write_clip: ClipMaker, tmp_path: Path) -> None:
    data, places = mjpeg_avi(write_clip)
    path = tmp_path / "cut.avi"
    path.write_bytes(data[: places[20]])
    with ClipReader(path) as clip:
        assert len(list(clip)) == 20
        assert clip.report().damaged == 0
        assert clip.report().incomplete


@pytest.mark.parametrize("kept", [4, 12, 60])
def test_our_clip_cut_inside_the_head_of_a_fragment(tmp_path: Path, kept: int) -> None:
    data = own_clip(tmp_path / "pour.mp4", "h264").read_bytes()
    path = tmp_path / "cut.mp4"
    path.write_bytes(data[: data.rindex(b"moof") - 4 + kept])
    with ClipReader(path) as clip:
        assert len(list(clip)) == 96
        assert clip.report().damaged == 0
        assert clip.report().incomplete


@pytest.mark.parametrize("threads", [1, None])
@pytest.mark.parametrize(
    ("name", "codec", "pix_fmt", "options"),
    [
        ("clip.avi", "mjpeg", "yuvj420p", {}),
        ("clip.mkv", "ffv1", "gray", {}),
        ("whole.mp4", "libx264", "yuv420p", {"tune": "zerolatency"}),
    ],
)
def test_a_clip_of_another_maker_cut_short(
    write_clip: ClipMaker,
    threads: int | None,
    name: str,
    codec: str,
    pix_fmt: str,
    options: dict[str, str],
) -> None:
    path = write_clip(
        name,
        noise(60),
        [40 * k for k in range(60)],
        codec=codec,
        pix_fmt=pix_fmt,
        codec_options=options,
        # The index first, as it must be for a cut MP4 to open at all.
        container_options={"movflags": "faststart"} if name.endswith("mp4") else {},
    )
    with ClipReader(cut(path, 0.6), threads=threads) as clip:
        times = [picture.t_ns for picture in clip]
        report = clip.report()
    assert 20 <= len(times) < 60
    assert times == [40_000_000 * k for k in range(len(times))]
    assert report.incomplete


def hit(path: Path, frame: int, at: int, garbage: bytes) -> tuple[Path, range]:
    """Overwrite part of one packet; return the clip, and the frames up to the next key frame."""
    with av.open(path) as container:
        packets = [packet for packet in container.demux(video=0) if packet.size]
    place = packets[frame].pos
    assert place is not None
    data = bytearray(path.read_bytes())
    data[place + at : place + at + len(garbage)] = garbage
    damaged = path.with_name("damaged.mp4")
    damaged.write_bytes(data)
    keys = [number for number, packet in enumerate(packets) if packet.is_keyframe]
    return damaged, range(frame, min(key for key in keys if key > frame))


@pytest.mark.parametrize("threads", [1, None])
def test_a_picture_that_cannot_be_decoded(tmp_path: Path, threads: int | None) -> None:
    # The length of the packet's first unit becomes nonsense (ISO/IEC 14496-15).
    path, built_on_it = hit(own_clip(tmp_path / "pour.mp4", "h264"), 40, 0, b"\xff" * 4)
    with ClipReader(path, threads=threads) as clip:
        pictures = list(clip)
        report = clip.report()
    assert len(pictures) == 99
    assert pictures[-1].t_ns == 99 * 8_000_000
    assert [(gap.frame, gap.lost) for gap in report.gaps] == [(40, 1)]
    marked = {picture.t_ns // 8_000_000 for picture in pictures if picture.damaged}
    # With threads the error is told some pictures late.
    assert marked <= set(built_on_it)
    assert len(marked) >= len(built_on_it) - 4
    assert report.damaged == len(marked) + 1
    assert report.incomplete


def test_a_picture_with_damage_and_what_builds_on_it(tmp_path: Path) -> None:
    garbage = np.random.default_rng(0).bytes(100)
    path, built_on_it = hit(own_clip(tmp_path / "pour.mp4", "h264"), 40, 20, garbage)
    with ClipReader(path, threads=1) as clip:
        pictures = list(clip)
        report = clip.report()
    marked = {picture.t_ns // 8_000_000 for picture in pictures if picture.damaged}
    assert set(built_on_it[1:]) <= marked <= set(built_on_it)
    assert report.damaged >= len(marked)


def test_a_clip_given_up_early_reports_no_fault_that_was_only_read_ahead(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, _ = hit(own_clip(tmp_path / "pour.mp4", "h264"), 4, 0, b"\xff" * 4)
    decoded: list[object] = []
    enough = threading.Event()
    luma = reader.luma

    def noted(frame: VideoFrame) -> object:
        decoded.append(frame)
        if len(decoded) == 3 + MOST_READY:
            enough.set()
        return luma(frame)

    monkeypatch.setattr(reader, "luma", noted)
    with ClipReader(path, threads=1, ahead=True) as clip:
        pictures = iter(clip)
        for _ in range(3):
            next(pictures)
        assert enough.wait(20.0)
        early = clip.report()
        rest = list(pictures)
        late = clip.report()
    assert (early.read, early.damaged) == (3, 0)
    assert len(rest) == 96
    assert late.damaged > 0


def sound_only(path: Path) -> Path:
    with av.open(path, "w") as container:
        stream = container.add_stream("aac", rate=44_100)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 4096), np.float32), "fltp", "mono")
        frame.sample_rate = 44_100
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def sound_with_a_cover(path: Path) -> Path:
    with av.open(path, "w") as container:
        sound, cover = container.add_stream("aac", rate=44_100), container.add_stream("mjpeg")
        cover.width, cover.height, cover.pix_fmt = 64, 48, "yuvj420p"
        cover.disposition = Disposition.attached_pic.value
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 4096), np.float32), "fltp", "mono")
        frame.sample_rate = 44_100
        picture = av.VideoFrame(64, 48, "yuvj420p")
        picture.pts = 0
        for stream, shown in ((sound, frame), (sound, None), (cover, picture), (cover, None)):
            container.mux(stream.encode(shown))
    return path


def head_only(path: Path) -> Path:
    options = {"movflags": "frag_keyframe+empty_moov+default_base_moof"}
    with av.open(path, "w", options=options) as container:
        stream = container.add_stream("libx264")
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        container.start_encoding()
    return path


def text(path: Path) -> Path:
    path.write_text("time_s,blocked\n0.1,1\n" * 50, encoding="ascii")
    return path


def empty(path: Path) -> Path:
    path.touch()
    return path


def folder(path: Path) -> Path:
    path.mkdir()
    return path


REFUSED = {
    "missing": (lambda path: path / "pour.mp4", "no such file"),
    "folder": (lambda path: folder(path / "pours"), "folder"),
    "empty": (lambda path: empty(path / "pour.mp4"), "empty"),
    "text named mp4": (lambda path: text(path / "pour.mp4"), "no recording"),
    "text named txt": (lambda path: text(path / "pour.txt"), "no recording"),
    "sound": (lambda path: sound_only(path / "pour.mp4"), "sound only"),
    "sound with a cover": (lambda path: sound_with_a_cover(path / "pour.mp4"), "sound only"),
    "no picture": (lambda path: head_only(path / "pour.mp4"), "not one picture"),
    "device": (lambda path: Path("/dev/null"), "device"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_opened_is_refused_with_its_reason(tmp_path: Path, case: str) -> None:
    make, found = REFUSED[case]
    path = make(tmp_path)
    with pytest.raises(SourceError) as caught:
        ClipReader(path)
    assert found in caught.value.found
    assert caught.value.where == str(path)
    assert caught.value.allowed or caught.value.remedy


def test_an_mp4_without_its_index_says_so(write_clip: ClipMaker) -> None:
    path = write_clip("pour.mp4", noise(10), range(0, 400, 40), codec="libx264", pix_fmt="yuv420p")
    with pytest.raises(SourceError, match="no index"):
        ClipReader(cut(path, 0.6))


def test_a_codec_that_is_not_known(write_clip: ClipMaker) -> None:
    path = write_clip("pour.avi", noise(3), [0, 40, 80], codec="mjpeg", pix_fmt="yuvj420p")
    path.write_bytes(path.read_bytes().replace(b"MJPG", b"QQQQ"))
    with pytest.raises(SourceError):
        ClipReader(path)


def test_a_file_without_permission(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = own_clip(tmp_path / "pour.mp4", "h264", 3)

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    # An administrator may read everything, so the refusal is played.
    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(SourceError, match="permission"):
        ClipReader(path)
