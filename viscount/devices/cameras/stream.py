"""A network stream as a camera: motion JPEG over HTTP, RTSP; a phone, for instance."""

from collections.abc import Iterator
from typing import NamedTuple

import av
from av.container import InputContainer
from av.error import FFmpegError
from av.packet import Packet
from av.video.frame import VideoFrame
from av.video.stream import VideoStream
from pydantic import Field

from viscount.clips.luma import Orientation, luma, orientation
from viscount.clock import Clock
from viscount.devices.cameras.album import jpeg_is_whole
from viscount.devices.cameras.arrival import ArrivalClock
from viscount.devices.cameras.live import LiveCamera
from viscount.errors import SourceError
from viscount.seams import Aim, Options
from viscount.values import Frame

_TIMELESS = frozenset({"mpjpeg", "mjpeg", "jpeg_pipe", "image2pipe"})
"""Formats whose time stamps only count pictures."""
_BARE_STREAM = {"fflags": "nobuffer", "analyzeduration": "0", "probesize": "32"}
_WAITED_NS = 1_000_000
_STALE_FRAMES = 8


class StreamOptions(Options):
    """Options of the camera `stream`.

    `open_s` and `silent_s` are the time-outs for opening and for the next picture; `transport`
    is how RTSP comes.
    """

    open_s: float = Field(5.0, gt=0, le=120)
    silent_s: float = Field(1.0, gt=0, le=120)
    transport: str = Field("tcp", pattern="^(tcp|udp)$")


class _Taken(NamedTuple):
    frame: VideoFrame
    whole: bool
    arrived_ns: int
    waited_ns: int


class StreamCamera(LiveCamera):
    """Reads a stream through FFmpeg.

    Pictures of RTSP carry times of their own, which are used; those of motion JPEG are timed as
    they arrive (see `ArrivalClock`). Pictures that had piled up while the stream was opened are
    left out: nobody knows how old they are. A JPEG picture without its end is damaged.

    Parameters
    ----------
    options : see `StreamOptions`.
    aim : the address is a URL.

    Raises
    ------
    SourceError : it cannot be opened.
    """

    def __init__(self, options: StreamOptions, aim: Aim, *, clock: Clock | None = None) -> None:
        super().__init__(clock)
        self._options = options
        self._url = aim.address
        self._container, self._stream = self._opened()
        self._jpeg = self._stream.codec_context.name == "mjpeg"
        self.may_repeat = not self._jpeg
        self._timeless = self._container.format.name in _TIMELESS
        self._arrivals = ArrivalClock()
        self._orientation: Orientation | None = None

    def _come(self) -> Iterator[Frame]:
        """Yield the pictures as they come.

        Raises
        ------
        SourceError : the stream broke off, or was silent for `silent_s`.
        """
        waiting: _Taken | None = None
        for taken in self._fresh():
            if waiting is not None:
                yield from self._framed(waiting, taken.arrived_ns)
                waiting = None
            if self._by_arrival(taken) and self._arrivals.is_late(taken.arrived_ns):
                waiting = taken
            else:
                yield from self._framed(taken, None)

    def _fresh(self) -> Iterator[_Taken]:
        """Yield what comes once all that had piled up has been read."""
        fresh = False
        for number, taken in enumerate(self._taken()):
            fresh = fresh or taken.waited_ns > _WAITED_NS or number >= _STALE_FRAMES
            if fresh:
                yield taken

    def _framed(self, taken: _Taken, next_ns: int | None) -> Iterator[Frame]:
        """Yield the frame, if its time is later than that of the one before."""
        pixels = luma(taken.frame)
        if self._orientation is None:
            self._orientation = orientation(taken.frame)
        made = self._made.frame(
            self._time_ns(taken, next_ns),
            self._orientation(pixels),
            age_ns=self._clock.now_ns() - taken.arrived_ns,
            damaged=not taken.whole,
        )
        if made is not None:
            yield made

    def _release(self) -> None:
        self._container.close()

    def _by_arrival(self, taken: _Taken) -> bool:
        return self._timeless or taken.frame.pts is None or self._stream.time_base is None

    def _time_ns(self, taken: _Taken, next_ns: int | None) -> int:
        pts, base = taken.frame.pts, self._stream.time_base
        if self._timeless or pts is None or base is None:
            return self._arrivals.at(taken.arrived_ns, next_ns)
        return round(pts * base * 1_000_000_000)

    def _taken(self) -> Iterator[_Taken]:
        try:
            packets = self._container.demux(self._stream)
            while not self._alarm.rung:
                asked_ns = self._clock.now_ns()
                packet = next(packets, None)
                if packet is None or self._alarm.rung:
                    break
                now_ns = self._clock.now_ns()
                whole = not self._jpeg or jpeg_is_whole(bytes(packet))
                for frame in self._decoded(packet):
                    is_whole = whole and not (packet.is_corrupt or frame.is_corrupt)
                    yield _Taken(frame, is_whole, now_ns, now_ns - asked_ns)
        except (FFmpegError, OSError) as error:
            if not self._alarm.rung:
                raise self._lost(error) from error
        if not self._alarm.rung:
            raise SourceError("the stream ended", where=self._url)

    def _decoded(self, packet: "Packet[VideoStream]") -> list[VideoFrame]:
        try:
            return packet.decode() if packet.size else []
        except EOFError:
            return []
        except FFmpegError:
            # What cannot be decoded leaves a gap, as what never came.
            return []

    def _opened(self) -> tuple[InputContainer, VideoStream]:
        options = {"fflags": "nobuffer", "analyzeduration": "0"}
        if self._url.startswith("http"):
            options = dict(_BARE_STREAM)
        elif self._url.startswith("rtsp"):
            options["rtsp_transport"] = self._options.transport
        try:
            timeout = (self._options.open_s, self._options.silent_s)
            container = av.open(self._url, timeout=timeout, options=options)
        except (FFmpegError, OSError, ValueError) as error:
            raise self._lost(error, opening=True) from error
        if not container.streams.video:
            container.close()
            raise SourceError("the stream holds no video", where=self._url)
        return container, container.streams.video[0]

    def _lost(self, error: Exception, *, opening: bool = False) -> SourceError:
        silent = isinstance(error, av.error.ExitError)
        limit = self._options.open_s if opening else self._options.silent_s
        what = "cannot be opened" if opening else "broke off"
        found = f"no picture for {limit:g} s" if silent else f"the stream {what} ({_said(error)})"
        return SourceError(
            found,
            where=self._url,
            remedy="check the address, the network and that the camera's program is running",
        )


def _said(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)
