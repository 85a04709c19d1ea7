"""Writing clips whose times are exact and which a kill leaves readable.

Both codecs go into MP4 with a time base of one microsecond, in fragments: a fragment on disk
needs nothing that comes after it. Plain MP4 is lost without its end, and Matroska rounds times
to a millisecond. FFV1 in MP4 is no standard, but FFmpeg 8, and with it PyAV 16 and OpenCV 5,
write and read it exactly; H.264 with crf 0 keeps every pixel with older ones too.
"""

import os
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Literal, Self

import av
import numpy as np
from av.container import OutputContainer
from av.packet import Packet
from av.video.frame import PictureType, VideoFrame
from av.video.stream import VideoStream
from numpy.typing import NDArray

from viscount.clips.key_frames import KeyFrames
from viscount.clips.partial import partial_path
from viscount.errors import UsageError

Codec = Literal["h264", "ffv1", "mjpeg"]

_TIME_BASE = Fraction(1, 1_000_000)
_FULL_RANGE = 2  # AVCOL_RANGE_JPEG
_CONTAINER_OPTIONS = {
    "movflags": "frag_keyframe+empty_moov+default_base_moof",
    "flush_packets": "1",
    "strict": "experimental",
}
_GREY = 128
_CODECS = {"h264": "libx264", "ffv1": "ffv1", "mjpeg": "mjpeg"}
_ONLY_PICTURE_US = 33_333  # how long the picture of a clip of one is held


class ClipWriter:
    """Writes grey pictures with their own times. Use as a context manager.

    The clip grows beside `path`, as ``pour.partial.mp4`` for ``pour.mp4``, and takes its name
    when it is closed: a file under the final name is always whole. A killed writer leaves the
    partial file, which opens and lacks at most the last quarter of a second. Leaving the
    ``with`` block by an exception leaves the partial file too.

    Times are stored from the first picture on, to the microsecond. The last picture is held as
    long as the one before it.

    Parameters
    ----------
    path : where the clip is to stand; ends in ``.mp4``. An older file there is replaced.
    width, height : size of the pictures in px, each 2 or more. Odd sizes are kept: nothing is
        padded or cut.
    codec : "h264" is small and lossy (luma is off by a few grey levels at edges); "ffv1"
        keeps every pixel, at some ten times the size; "mjpeg" stores each picture as JPEG, as
        cheap cameras do. Encoding takes one thread: the same pictures give the same clip on
        every machine.
    crf : quality of H.264, 0 (lossless) to 51; 18 is hard to tell from the original.
    qscale : coarseness of the JPEG pictures, 2 (best) to 31.

    Raises
    ------
    UsageError : a parameter is out of its range.
    """

    def __init__(
        self,
        path: str | Path,
        width: int,
        height: int,
        *,
        codec: Codec = "h264",
        crf: int = 18,
        qscale: int = 3,
    ) -> None:
        self.path = Path(path)
        _check(self.path, width, height, codec, crf, qscale)
        self.partial = partial_path(self.path)
        self._shape = height, width
        self._first_ns: int | None = None
        self._last_us = 0
        self._held_us = _ONLY_PICTURE_US
        self._key_frames = KeyFrames()
        self._finished = False
        self._container = _create(self.partial)
        try:
            self._stream = _add_stream(self._container, width, height, codec, crf, qscale)
        except UsageError:
            self._container.close()
            self.partial.unlink()
            raise
        self._frame = _blank(self._stream)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if error is None:
            self.close()
        else:
            self.abandon()

    def write(self, pixels: NDArray[np.uint8], t_ns: int) -> None:
        """Append a picture.

        Parameters
        ----------
        pixels : uint8, (height, width), grey.
        t_ns : its time, at least one microsecond after the picture before.

        Raises
        ------
        UsageError : the picture or its time does not fit, or the clip is closed.
        """
        if self._finished:
            raise UsageError("a picture for a closed clip", where=str(self.path))
        if pixels.dtype != np.uint8 or pixels.shape != self._shape:
            raise UsageError(
                f"a picture of {pixels.dtype}, {pixels.shape}",
                where=str(self.path),
                allowed=f"uint8, {self._shape}",
            )
        at_us = self._place(t_ns)
        self._frame.make_writable()
        plane = self._frame.planes[0]
        lines = np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)
        lines[: pixels.shape[0], : pixels.shape[1]] = pixels
        self._frame.pts = at_us
        self._frame.time_base = _TIME_BASE
        key = self._key_frames.falls_on(at_us)
        self._frame.pict_type = PictureType.I if key else PictureType.NONE
        self._mux(self._stream.encode(self._frame))

    def close(self) -> None:
        """Finish the clip and give it its name; harmless when repeated.

        Raises
        ------
        UsageError : no picture was written; nothing is left behind.
        """
        if self._finished:
            return
        if self._first_ns is None:
            self._finish()
            self.partial.unlink()
            raise UsageError("a clip without a picture", where=str(self.path))
        self._mux(self._stream.encode(None))
        self._finish()
        with self.partial.open("rb+") as file:
            os.fsync(file.fileno())
        self.partial.replace(self.path)

    def abandon(self) -> None:
        """Close the file where it stands, under its partial name; harmless when repeated."""
        if not self._finished:
            self._finish()

    def _finish(self) -> None:
        self._finished = True
        self._container.close()

    def _place(self, t_ns: int) -> int:
        """Return the picture's place on the clip's time line in us, and note it."""
        if self._first_ns is None:
            self._first_ns = t_ns
            return 0
        at_us = round(Fraction(t_ns - self._first_ns, 1000))
        if at_us <= self._last_us:
            raise UsageError(
                f"a picture {self._last_us - at_us} us before the last one",
                where=str(self.path),
                allowed="times that rise by a microsecond or more",
            )
        self._held_us = at_us - self._last_us
        self._last_us = at_us
        return at_us

    def _mux(self, packets: "list[Packet[VideoStream]]") -> None:
        for packet in packets:
            # Only the last one counts: all others last until the next picture.
            packet.duration = self._held_us
            self._container.mux(packet)


def _check(path: Path, width: int, height: int, codec: str, crf: int, qscale: int) -> None:
    where = str(path)
    if path.suffix.lower() != ".mp4":
        raise UsageError(f"a clip named {path.name}", where=where, allowed="a name in .mp4")
    if not path.parent.is_dir():
        raise UsageError("the folder is missing", where=where, remedy=f"create {path.parent}")
    if width < 2 or height < 2:
        raise UsageError(f"pictures of {width} x {height} px", where=where, allowed="2 x 2 or more")
    if codec not in _CODECS:
        raise UsageError(f"codec {codec}", where=where, allowed=", ".join(_CODECS))
    if not 0 <= crf <= 51:
        raise UsageError(f"crf {crf}", where=where, allowed="0 to 51")
    if not 2 <= qscale <= 31:
        raise UsageError(f"qscale {qscale}", where=where, allowed="2 to 31")


def _create(path: Path) -> OutputContainer:
    try:
        path.write_bytes(b"")  # PyAV itself creates the file only with the first picture
        return av.open(str(path), "w", format="mp4", options=dict(_CONTAINER_OPTIONS))
    except OSError as error:
        raise UsageError(
            f"the clip cannot be created ({error.strerror})",
            where=str(path),
            remedy="write it to a folder of your own",
        ) from error


def _add_stream(
    container: OutputContainer, width: int, height: int, codec: Codec, crf: int, qscale: int
) -> VideoStream:
    options = {
        "h264": {
            "crf": str(crf),
            "preset": "veryfast",
            "tune": "zerolatency",  # hands out each packet at once, and has no B-frames
            "sc_threshold": "0",
            "forced-idr": "1",
        },
        "ffv1": {"level": "3", "slicecrc": "1", "slices": "4"},
        "mjpeg": {"qmin": str(qscale), "qmax": str(qscale)},
    }[codec]
    try:
        stream = container.add_stream(_CODECS[codec], options=options)
    except ValueError as error:
        raise UsageError(
            f"this version of PyAV ({av.__version__}) does not write {codec} into MP4",
            remedy="install PyAV 16 or later, or write h264 with crf 0",
        ) from error
    if not isinstance(stream, VideoStream):  # pragma: no cover - for the type checker
        raise TypeError(_CODECS[codec])
    # Half a chroma sample does not exist: odd sizes go without chroma.
    even = width % 2 == 0 and height % 2 == 0
    stream.width, stream.height = width, height
    stream.pix_fmt = "yuvj420p" if codec == "mjpeg" else "gray"
    if codec == "h264" and even:
        stream.pix_fmt = "yuv420p"
    stream.codec_context.thread_count = 1  # x264 cuts its pictures up by the number of threads
    stream.time_base = stream.codec_context.time_base = _TIME_BASE
    stream.codec_context.gop_size = 1_000_000 if codec == "h264" else 1
    stream.codec_context.color_range = _FULL_RANGE
    return stream


def _blank(stream: VideoStream) -> VideoFrame:
    frame = VideoFrame(stream.width, stream.height, stream.pix_fmt or "gray")
    frame.color_range = _FULL_RANGE
    for plane in frame.planes:
        np.frombuffer(memoryview(plane), np.uint8)[:] = _GREY
    return frame
