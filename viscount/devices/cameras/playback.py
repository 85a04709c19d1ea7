"""Playback: a recorded clip as a camera."""

from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from viscount.clips.reader import ClipReader, Picture
from viscount.clips.report import ClipReport
from viscount.devices.cameras.notices import clip_notices
from viscount.errors import UsageError
from viscount.values import Frame, Notice


class PlaybackCamera:
    """Plays a clip as fast as frames are asked for.

    Each call of `frames` begins at the first frame again.

    Parameters
    ----------
    path : the clip.
    capture_fps : rate of capture in Hz, where the file's own clock is slow motion.
    threads : decoder threads; None leaves the choice to the decoder.
    ahead : whether pictures are decoded ahead, in a thread of their own.

    Raises
    ------
    SourceError : nothing can be read from `path`.
    """

    def __init__(
        self,
        path: str | Path,
        *,
        capture_fps: float | None = None,
        threads: int | None = None,
        ahead: bool = False,
    ) -> None:
        self.path = Path(path)
        self._capture_fps = capture_fps
        self._threads = threads
        self._ahead = ahead
        self._closed = False
        self._reader = self._open()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def frames(self) -> Iterator[Frame]:
        """Yield the clip's frames; what moment of the exposure their times mark is unknown."""
        if self._closed:
            raise UsageError("the clip is closed", where=str(self.path))
        if self._reader.begun:
            self._reader.close()
            self._reader = self._open()
        for index, picture in enumerate(self._pictures()):
            yield Frame(
                index=index,
                t_ns=picture.t_ns,
                pixels=picture.pixels,
                damaged=picture.damaged,
                repeated=picture.repeated,
            )

    def _pictures(self) -> Iterator[Picture]:
        """Yield pictures until the clip is closed: reading on in a closed file crashes."""
        pictures = iter(self._reader)
        while not self._closed and (picture := next(pictures, None)) is not None:
            yield picture

    @property
    def tick_ns(self) -> float:
        """Step in which the clip's times are stored."""
        return self._reader.tick_ns

    def times_ns(self) -> NDArray[np.int64] | None:
        """Return the times of all frames without decoding them; None if some have none."""
        return self._reader.times_ns()

    def notices(self) -> tuple[Notice, ...]:
        """Return what there is to say of the clip as far as it was read."""
        return clip_notices(self.report(), self.path.name, rate_given=self._capture_fps is not None)

    def report(self) -> ClipReport:
        """Return what was met so far."""
        return self._reader.report()

    def close(self) -> None:
        """Let go of the file; harmless when repeated."""
        self._closed = True
        self._reader.close()

    def _open(self) -> ClipReader:
        return ClipReader(
            self.path, threads=self._threads, capture_fps=self._capture_fps, ahead=self._ahead
        )
