"""The recording: pictures and edges to disk, by a thread of its own that may fall behind."""

import logging
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from viscount.clips.writer import ClipWriter
from viscount.codes import Code
from viscount.devices.beams.log_writer import BeamLogWriter
from viscount.session.bounded import BoundedQueue
from viscount.values import Edge, Level, Notice

_log = logging.getLogger("viscount.session")

Picture = tuple[int, NDArray[np.uint8]]
Item = Picture | tuple[Edge, ...]


class Recorder:
    """Writes a clip, and a beam log beside it.

    Pictures that come faster than they can be written are left out of the clip and counted; the
    counting never waits. Edges are never left out. Nothing stands under its final name before it
    is whole.

    Parameters
    ----------
    clip : where the pictures go, or None.
    beam_log : where the edges go, or None.
    lossless : keep every pixel as it is.

    Raises
    ------
    UsageError : a file cannot be created.
    """

    def __init__(self, clip: Path | None, beam_log: Path | None, *, lossless: bool = False) -> None:
        self._clip = clip
        self._lossless = lossless
        self._log = None if beam_log is None else BeamLogWriter(beam_log)
        self._writer: ClipWriter | None = None
        self._queue: BoundedQueue[Item] = BoundedQueue()
        self._failed = ""
        self.missed = 0
        self._thread = threading.Thread(target=self._run, name="recording", daemon=True)
        self._thread.start()

    @property
    def clip(self) -> Path | None:
        """The clip, if one is recorded."""
        return self._clip

    def picture(self, t_ns: int, pixels: NDArray[np.uint8]) -> None:
        """Record a picture with its time, if there is room."""
        if self._clip is not None and not self._queue.put((t_ns, pixels), pixels.nbytes):
            self.missed += 1

    def edges(self, edges: Sequence[Edge]) -> None:
        """Record edges, always."""
        if self._log is not None and edges:
            self._queue.put(tuple(edges), anyway=True)

    def close(self, end_device_t_ns: int | None = None) -> tuple[Path | None, Path | None]:
        """Write what waits, and finish both files; return those that there are.

        Parameters
        ----------
        end_device_t_ns : up to when the beam log is whole.
        """
        self._queue.close()
        self._thread.join()
        clip = log = None
        try:
            if self._writer is not None and self._failed:
                self._writer.abandon()
            elif self._writer is not None:
                self._writer.close()
                clip = self._writer.path
            if self._log is not None and self._log.close(end_device_t_ns):
                log = self._log.path
        except Exception as error:
            self._fail(error)
        return clip, log

    def notices(self) -> Iterator[Notice]:
        """Yield what there is to say of the recording."""
        where = str(self._clip or "")
        if self.missed:
            text = f"the recording lacks {self.missed} frames that were counted"
            yield Notice(level=Level.INFO, code=Code.RECORDING_BEHIND, text=text, where=where)
        if self._failed:
            text = f"the recording broke off: {self._failed}"
            yield Notice(level=Level.INFO, code=Code.RECORDING_FAILED, text=text, where=where)

    def _run(self) -> None:
        while True:
            item = self._queue.get(1.0)
            if item is None:
                if self._queue.closed:
                    return
                continue
            try:
                self._write(item)
            except Exception as error:
                self._fail(error)

    def _write(self, item: Item) -> None:
        if isinstance(item[0], Edge):
            if self._log is not None:
                self._log.write(item)
            return
        if self._failed or self._clip is None:
            return
        t_ns, pixels = item
        assert isinstance(t_ns, int)
        assert isinstance(pixels, np.ndarray)
        if self._writer is None:
            height, width = pixels.shape
            codec = "ffv1" if self._lossless else "h264"
            self._writer = ClipWriter(self._clip, width, height, codec=codec)  # type: ignore[arg-type]
        self._writer.write(pixels, t_ns)

    def _fail(self, error: Exception) -> None:
        if not self._failed:
            _log.debug("the recording failed as follows", exc_info=error)
            self._failed = " ".join(str(error).split())
