"""Hands out any frame of a recording, by reading on or from its start again."""

from collections import OrderedDict
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.devices.cameras.source import open_source
from viscount.errors import SourceError
from viscount.values import Frame

LIMIT_BYTES: Final = 160 << 20


class FileReel:
    """Reads frames of a recording, and keeps the latest that were read.

    Parameters
    ----------
    path : of the clip, or of the folder of pictures.
    capture_fps : as for `open_source`.
    limit_bytes : how much the frames kept may take.
    """

    def __init__(
        self, path: Path, *, capture_fps: float | None = None, limit_bytes: int = LIMIT_BYTES
    ) -> None:
        self._limit = limit_bytes
        self._camera = open_source(path, capture_fps=capture_fps, threads=1)
        self._kept: OrderedDict[int, NDArray[np.uint8]] = OrderedDict()
        self._bytes = 0
        self._frames: Iterator[Frame] | None = None
        self._next = 0

    def pixels(self, index: int) -> NDArray[np.uint8] | None:
        """Return a frame's picture; None where the file cannot be read any more."""
        if index in self._kept:
            return self._kept[index]
        try:
            if self._frames is None or index < self._next:
                self._frames, self._next = iter(self._camera.frames()), 0
            for frame in self._frames:
                self._keep(frame)
                self._next = frame.index + 1
                if frame.index >= index:
                    break
        except SourceError:
            return None
        return self._kept.get(index)

    def close(self) -> None:
        """Let go of the file."""
        self._camera.close()

    def _keep(self, frame: Frame) -> None:
        before = self._kept.pop(frame.index, None)
        if before is not None:
            self._bytes -= before.nbytes
        self._kept[frame.index] = frame.pixels
        self._bytes += frame.pixels.nbytes
        while self._bytes > self._limit and len(self._kept) > 1:
            _, gone = self._kept.popitem(last=False)
            self._bytes -= gone.nbytes
