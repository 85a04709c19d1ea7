"""Choosing the camera for a path: a clip is played back, pictures are shown in turn."""

from pathlib import Path

from viscount.clips.container import require_readable
from viscount.devices.cameras.album import SUFFIXES, is_moving_png
from viscount.devices.cameras.playback import PlaybackCamera
from viscount.devices.cameras.stills import StillsCamera


def open_source(
    path: str | Path,
    *,
    capture_fps: float | None = None,
    threads: int | None = None,
    ahead: bool = False,
) -> PlaybackCamera | StillsCamera:
    """Open the recording or the pictures at `path`.

    Parameters
    ----------
    path : a clip, a folder of pictures, or a picture file.
    capture_fps : rate of capture in Hz. Needed for slow motion, and for pictures that were
        not taken 30 a second.
    threads : decoder threads for clips; None leaves the choice to the decoder.
    ahead : whether pictures are decoded ahead, in a thread of their own; worth it for whoever
        reads all of them in one go.

    Raises
    ------
    SourceError : nothing can be read from `path`; says what is there and what to do.
    """
    path = Path(path)
    if not path.is_dir():
        require_readable(path)
    if path.is_dir() or (path.suffix.lower() in SUFFIXES and not is_moving_png(path)):
        return StillsCamera(path, rate_hz=capture_fps, ahead=ahead)
    return PlaybackCamera(path, capture_fps=capture_fps, threads=threads, ahead=ahead)
