"""Packets in, pictures out: decoding that goes on past damaged data and remembers it."""

import math
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from av.container import InputContainer
from av.error import FFmpegError
from av.packet import Packet
from av.video.frame import VideoFrame
from av.video.stream import VideoStream


class Decoded(NamedTuple):
    """One picture in presentation order.

    `stamp` is its time in ticks of the stream's time base, or None where the file has none;
    `undecodable` says how many packets have given an error by now.
    """

    frame: VideoFrame
    stamp: int | None
    damaged: bool
    undecodable: int


@dataclass(slots=True)
class Faults:
    """What went wrong so far.

    Attributes
    ----------
    undecodable : packets that gave an error instead of a picture.
    broken_off : the file ended inside a packet, or could not be read on.
    """

    undecodable: int = 0
    broken_off: bool = False


class Decoder:
    """Decodes one video stream from its beginning to its end, once.

    After damaged data the pictures that build on it are marked as damaged, up to the next
    key frame.
    """

    def __init__(self, container: InputContainer, stream: VideoStream) -> None:
        self._container = container
        self._stream = stream
        self._suspect_from = math.inf
        # AVI stores no times but those of decoding. Where pictures are reordered, FFmpeg's
        # guess at the others is wrong; the n-th picture shown takes the n-th time of decoding.
        self._in_decode_order = container.format.name == "avi" and bool(stream.has_b_frames)
        self._decode_stamps: deque[int] = deque()
        self.faults = Faults()
        self.last_duration = 0

    def __iter__(self) -> Iterator[Decoded]:
        for packet in self.packets():
            for frame in self._frames(packet):
                stamp = self._stamp(frame)
                damaged = self._is_damaged(frame, stamp)
                yield Decoded(frame, stamp, damaged, self.faults.undecodable)

    def packets(self) -> "Iterator[Packet[VideoStream] | None]":
        """Yield the stream's packets, and at the end None to drain the decoder."""
        packets = self._container.demux(self._stream)
        while True:
            try:
                packet = next(packets, None)
            except FFmpegError:
                self.faults.broken_off = True
                break
            if packet is None:
                break
            if packet.size:  # an empty packet stands for a picture that was not recorded
                self._note(packet)
                yield packet
        yield None

    def stamp_of(self, packet: "Packet[VideoStream]") -> int | None:
        """Return the time of the packet's picture, or, in decoding order, of one picture."""
        return packet.dts if packet.pts is None or self._in_decode_order else packet.pts

    def _note(self, packet: "Packet[VideoStream]") -> None:
        if packet.dts is not None:
            self._decode_stamps.append(packet.dts)
        self.last_duration = packet.duration or 0
        # The packet in which a file ends too early is marked so; it is the last one.
        self.faults.broken_off = packet.is_corrupt
        if packet.is_corrupt:
            self._suspect(packet)

    def _frames(self, packet: "Packet[VideoStream] | None") -> list[VideoFrame]:
        try:
            return self._stream.decode(packet)
        except EOFError:
            return []
        except FFmpegError:
            self.faults.undecodable += 1
            if packet is not None:
                self._suspect(packet)
                if packet.dts is not None:
                    self._decode_stamps.pop()
            return []

    def _stamp(self, frame: VideoFrame) -> int | None:
        """Return the frame's own time, else the decoding time of the same place in order."""
        decode_stamp = self._decode_stamps.popleft() if self._decode_stamps else None
        return frame.pts if frame.pts is not None and not self._in_decode_order else decode_stamp

    def _suspect(self, packet: "Packet[VideoStream]") -> None:
        stamp = self.stamp_of(packet)
        self._suspect_from = min(self._suspect_from, -math.inf if stamp is None else stamp)

    def _is_damaged(self, frame: VideoFrame, stamp: int | None) -> bool:
        at = math.inf if stamp is None else stamp
        if frame.key_frame and at > self._suspect_from:
            self._suspect_from = math.inf
        if frame.is_corrupt:
            self._suspect_from = min(self._suspect_from, at)
        return frame.is_corrupt or (at >= self._suspect_from and self._suspect_from < math.inf)
