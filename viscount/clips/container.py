"""Opening a recording: the container and its one video stream, or a clear refusal."""

from pathlib import Path

import av
from av.container import InputContainer
from av.error import FFmpegError
from av.stream import Disposition
from av.video.stream import VideoStream

from viscount.clips.boxes import read_boxes
from viscount.errors import SourceError

# Text and binary files that FFmpeg draws as if they were a terminal's screen.
_SCREEN_CODECS = frozenset({"ansi", "bintext", "xbin", "idf"})

_ALLOWED = "a video recording (MP4, MKV, AVI, MOV, GIF and the like) or a folder of pictures"


def open_container(path: Path) -> tuple[InputContainer, VideoStream]:
    """Open `path` and pick its video stream.

    Raises
    ------
    SourceError : the file is missing, unreadable, empty, no recording, cut off before its
        index, or without a video that can be decoded here.
    """
    require_readable(path)
    try:
        container = _open(path)
    except (FFmpegError, OSError) as error:
        raise _refusal(path) from error
    try:
        return container, _video_stream(container, path)
    except BaseException:
        container.close()
        raise


def require_readable(path: Path) -> None:
    """Raise `SourceError` unless `path` is a file with something in it that may be read."""
    where = str(path)
    if not path.exists():
        raise SourceError(
            "there is no such file", where=where, allowed=_ALLOWED, remedy="check the path"
        )
    if path.is_dir():
        raise SourceError(
            "this is a folder", where=where, allowed="a file", remedy="name a file in it"
        )
    if not path.is_file():
        raise SourceError("this is a device, not a recording", where=where, allowed=_ALLOWED)
    try:
        with path.open("rb") as file:
            empty = not file.read(1)
    except PermissionError as error:
        raise SourceError(
            "the permission to read this file is missing",
            where=where,
            remedy="give yourself the right to read it, or copy it to a place of your own",
        ) from error
    except OSError as error:
        raise SourceError(f"the file cannot be read ({error.strerror})", where=where) from error
    if empty:
        raise SourceError(
            "the file is empty",
            where=where,
            allowed=_ALLOWED,
            remedy="copy the file again, or record the pour again",
        )


def _open(path: Path) -> InputContainer:
    # The prefix keeps a name such as "concat:a" from being taken for a protocol.
    url = f"file:{path}"
    try:
        return av.open(url)
    except UnicodeDecodeError:
        # Tags in another encoding; later versions of PyAV read them as they are.
        return av.open(url, "r", metadata_errors="replace")


def _refusal(path: Path) -> SourceError:
    boxes = read_boxes(path)
    if boxes is not None and not boxes.indexed:
        return SourceError(
            "the recording has no index: it was cut off, or never finished",
            where=str(path),
            remedy="copy the file again, or record the pour again",
        )
    return SourceError(
        "this is no recording that can be decoded",
        where=str(path),
        allowed=_ALLOWED,
        remedy="check that the file plays in a video player",
    )


def _video_stream(container: InputContainer, path: Path) -> VideoStream:
    streams = [s for s in container.streams.video if not s.disposition & Disposition.attached_pic]
    if not streams:
        kind = "holds sound only" if container.streams.audio else "holds no video"
        raise SourceError(
            f"the recording {kind}", where=str(path), allowed="a file with a video stream"
        )
    stream = streams[0]
    # A stream of a codec unknown here has no codec context.
    context = getattr(stream, "codec_context", None)
    if context is None:
        raise SourceError(
            "the video's codec is not known here",
            where=str(path),
            remedy="convert the recording to H.264",
        )
    if context.name in _SCREEN_CODECS:
        raise _refusal(path)
    return stream
