"""Reading clips: each picture with its own time, as a view of the decoder's luma.

Times come from the file's time stamps, never from counting frames: a lost frame shows only
there. What a user must know of the file is gathered into a `ClipReport`.
"""

import math
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from viscount.clips.ahead import ReadAhead
from viscount.clips.boxes import read_boxes
from viscount.clips.container import open_container
from viscount.clips.decoder import Decoded, Decoder
from viscount.clips.header import exact, read_header, stated_duration_s, stated_rate
from viscount.clips.log import PictureLog
from viscount.clips.luma import Pixels, luma, orientation
from viscount.clips.pace import measure_pace
from viscount.clips.partial import is_partial
from viscount.clips.report import ClipReport
from viscount.clips.timekeeper import Timekeeper
from viscount.errors import SourceError, UsageError

_SECOND_NS = 1_000_000_000
# The rate taken where a file neither stores times nor states a rate.
_ASSUMED_RATE_HZ = Fraction(30)
# Packets looked at to find the file's own rate before slow motion is undone.
_PACKETS_FOR_RATE = 4096


class Picture(NamedTuple):
    """One decoded picture.

    `t_ns` counts from the first picture; `pixels` is uint8, (H, W), read-only, the right way
    up; `damaged` says that the decoder met errors in it or in what it builds on; `repeated`
    says that it equals the one before, pixel for pixel.
    """

    t_ns: int
    pixels: Pixels
    damaged: bool
    repeated: bool


class ClipReader:
    """Reads one clip, once, in order of presentation.

    Use as a context manager and iterate over it. Pictures of another size than the first are
    not handed on but counted as damaged.

    Parameters
    ----------
    path : a file in any container and codec that FFmpeg decodes.
    threads : decoder threads; None leaves the choice to FFmpeg.
    capture_fps : rate at which a slow-motion clip was captured, in Hz. Times are then
        shortened so that the file's ordinary interval becomes 1 / capture_fps.
    ahead : whether a thread of its own decodes the next pictures while one is looked at. It ends
        with the clip, or when that is closed; the report speaks of pictures handed on only.

    Attributes
    ----------
    header : what the file states of itself.
    begun : reading has begun, or the clip is closed.

    Raises
    ------
    SourceError : nothing can be read from `path`.
    UsageError : `threads` or `capture_fps` is not positive.
    """

    def __init__(
        self,
        path: str | Path,
        *,
        threads: int | None = None,
        capture_fps: float | None = None,
        ahead: bool = False,
    ) -> None:
        if threads is not None and threads < 1:
            raise UsageError(f"{threads} decoder threads", allowed="1 or more")
        if capture_fps is not None and not (math.isfinite(capture_fps) and capture_fps > 0):
            raise UsageError(f"a capture rate of {capture_fps}", allowed="a rate above 0, in Hz")
        self.path = Path(path)
        self._container, self._stream = open_container(self.path)
        self._log = PictureLog()
        self.begun = False
        self._ended = False
        try:
            self._begin(threads, capture_fps)
            self._ahead = ReadAhead(self._decoded) if ahead else None
        except BaseException:
            self._container.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def __iter__(self) -> Iterator[Picture]:
        if self.begun:
            raise UsageError("the clip was read already, or closed", remedy="open it again")
        self.begun = True
        return self._pictures()

    def close(self) -> None:
        """Let go of the file; harmless when repeated."""
        self.begun = True
        if self._ahead is not None:  # reading on in a closed file crashes
            self._ahead.close()
        self._container.close()

    def report(self) -> ClipReport:
        """Return what was met so far."""
        report = self._log.report(
            self.header,
            tick_ns=float(self._tick_ns),
            undecodable=self._undecodable,
            ended=self._ended,
            scale=float(self._scale),
        )
        if not self._ended:
            return report
        faults = self._decoder.faults
        broken = faults.broken_off or faults.undecodable > 0 or self._unfinished
        return replace(report, incomplete=broken or self._is_short(report))

    @property
    def tick_ns(self) -> float:
        """Step in which the times are stored, as handed on."""
        return float(self._tick_ns)

    def times_ns(self) -> NDArray[np.int64] | None:
        """Return the times of all the file's pictures, without decoding; None if some lack one.

        They equal the times handed on, except where the file's stamps run backwards.
        """
        stamps = _packet_stamps(self.path)
        if self._first_stamp is None or not stamps or None in stamps:
            return None
        known = np.unique(np.array(stamps, np.int64))
        later = known[known >= self._first_stamp] - self._first_stamp
        return np.array([round(int(stamp) * self._tick_ns) for stamp in later], np.int64)

    def _begin(self, threads: int | None, capture_fps: float | None) -> None:
        """Decode the first picture, and find out all that holds for the clip as a whole."""
        stream = self._stream
        if threads is None:
            stream.thread_type = "AUTO"
        else:
            stream.thread_count = threads
        self._decoder = Decoder(self._container, stream)
        self._decoded = self._decode()
        first = next(self._decoded, None)
        if first is None:
            raise SourceError(
                "not one picture could be decoded",
                where=str(self.path),
                remedy="copy the file again, or convert it to H.264",
            )
        self._first: tuple[Decoded, Pixels] | None = first
        decoded, pixels = first
        self._undecodable = decoded.undecodable
        self._stored_shape = pixels.shape
        self._orientation = orientation(decoded.frame)
        height, width = self._orientation(pixels).shape
        self.header = read_header(self._container, stream, width=width, height=height)
        boxes = read_boxes(self.path)
        self._unfinished = is_partial(self.path) or (boxes is not None and not boxes.whole)

        self._set_clock(capture_fps, decoded.stamp)

    def _set_clock(self, capture_fps: float | None, first_stamp: int | None) -> None:
        stream = self._stream
        self._first_stamp = first_stamp
        tick_ns = exact(stream.time_base) * _SECOND_NS
        interval_ns = _SECOND_NS / (stated_rate(stream) or _ASSUMED_RATE_HZ)
        self._scale = Fraction(1)
        if capture_fps is not None:
            interval_ns = _file_interval_ns(self.path, tick_ns) or interval_ns
            self._scale = _SECOND_NS / Fraction(capture_fps) / interval_ns
        self._tick_ns = tick_ns * self._scale
        self._keeper = Timekeeper(self._tick_ns, round(interval_ns * self._scale))
        self._stated_end_ns: float | None = None
        duration_s = stated_duration_s(self._container, stream)
        if duration_s is not None:
            missed = 0
            if first_stamp is not None and stream.start_time is not None:
                missed = first_stamp - stream.start_time
            self._stated_end_ns = float(
                duration_s * _SECOND_NS * self._scale - missed * self._tick_ns
            )

    def _decode(self) -> Iterator[tuple[Decoded, Pixels]]:
        for decoded in self._decoder:
            yield decoded, luma(decoded.frame)

    def _pictures(self) -> Iterator[Picture]:
        following = self._ahead or self._decoded
        while (one := self._first or next(following, None)) is not None:
            self._first = None
            decoded, pixels = one
            self._undecodable = decoded.undecodable
            if pixels.shape != self._stored_shape:
                self._log.add_unusable()
                continue
            t_ns, untimed = self._keeper.time(decoded.stamp)
            damaged = decoded.damaged
            repeated = self._log.add(t_ns, pixels, damaged=damaged, untimed=untimed)
            yield Picture(t_ns, self._orientation(pixels), damaged, repeated)
        if self._ahead is None or not self._ahead.closed:
            self._undecodable = self._decoder.faults.undecodable
            self._ended = True

    def _is_short(self, report: ClipReport) -> bool:
        """Whether the last picture comes more than two intervals before the stated end."""
        if self._stated_end_ns is None:
            return False
        held_ns = float(self._decoder.last_duration * self._tick_ns)
        interval_ns = report.pace.interval_ns if report.pace is not None else held_ns
        return self._stated_end_ns - report.last_t_ns > max(held_ns, interval_ns) + interval_ns


def _packet_stamps(path: Path, most: int | None = None) -> list[int | None]:
    """Return the time stamps of the file's packets, in order of storage."""
    container, stream = open_container(path)
    with container:
        decoder = Decoder(container, stream)
        packets = islice(decoder.packets(), most)
        return [decoder.stamp_of(packet) for packet in packets if packet is not None]


def _file_interval_ns(path: Path, tick_ns: Fraction) -> Fraction | None:
    """Return the ordinary interval of the file's own times, from its packets alone."""
    stamps = _packet_stamps(path, _PACKETS_FOR_RATE)
    known = np.unique(np.array([s for s in stamps if s is not None], np.int64))
    pace = measure_pace(known, tick_ns=1.0)
    return Fraction(pace.interval_ns) * tick_ns if pace is not None else None
