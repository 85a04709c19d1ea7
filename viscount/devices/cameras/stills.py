"""Still pictures, one after the other, as a camera."""

import math
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from viscount.clips.ahead import ReadAhead
from viscount.clips.log import PictureLog
from viscount.clips.report import ClipReport, Header
from viscount.codes import Code
from viscount.devices.cameras.album import Raw, Still, open_album
from viscount.devices.cameras.notices import clip_notices
from viscount.errors import SourceError, UsageError
from viscount.values import Frame, Level, Notice

_ASSUMED_RATE_HZ = 30.0
_DEPTHS = (8, 10, 12, 14, 16)


class StillsCamera:
    """Shows the pictures of a folder or a file of many pages.

    Files are taken in the order of the numbers in their names. Where the names hold a running
    number, it is the frame's `seq`, and a missing number is a missing frame. Each call of
    `frames` begins at the first picture again.

    Parameters
    ----------
    path : a folder of pictures, a picture, a TIFF of many pages, or a moving WebP.
    rate_hz : pictures per second. None takes a moving WebP's own times, and else assumes 30.
    ahead : whether pictures are decoded ahead, in a thread of their own.

    Raises
    ------
    SourceError : not one picture can be read.
    UsageError : `rate_hz` is not positive.
    """

    def __init__(
        self, path: str | Path, *, rate_hz: float | None = None, ahead: bool = False
    ) -> None:
        if rate_hz is not None and not (math.isfinite(rate_hz) and rate_hz > 0):
            raise UsageError(f"a rate of {rate_hz} pictures", allowed="a rate above 0, in Hz")
        self.path = Path(path)
        self._album = open_album(self.path)
        self._rate_hz = rate_hz
        self._ahead = ahead
        self._reading: ReadAhead[Still] | None = None
        self._ended = False
        self._log = PictureLog()
        first = next((s.pixels for s in self._album.stills() if s.pixels is not None), None)
        if first is None:
            raise SourceError(
                "not one picture could be decoded",
                where=str(self.path),
                allowed="pictures with 8 or 16 bits",
                remedy="copy the pictures again",
            )
        self._depth = GreyDepth(first)
        self._shape = first.shape
        timed = self._album.timed or rate_hz is not None
        self._header = Header(
            container=self._album.container,
            codec=self._album.codec,
            width=first.shape[1],
            height=first.shape[0],
            rate_hz=rate_hz or (None if timed else _ASSUMED_RATE_HZ),
            frames=self._album.pictures,
            timed=timed,
        )

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
        """Yield the pictures as frames, uint8; one that cannot be decoded leaves a gap."""
        self.close()
        self._log = PictureLog()
        self._ended = False
        index = first_ns = 0
        for still in self._stills():
            if still.pixels is None or still.pixels.shape != self._shape:
                self._log.add_unusable()
                continue
            if index == 0:
                first_ns = self._time_ns(still)
            t_ns = self._time_ns(still) - first_ns
            pixels = self._depth.shown(still.pixels)
            repeated = self._log.add(t_ns, pixels, damaged=still.damaged)
            yield Frame(
                index=index,
                seq=still.seq,
                t_ns=t_ns,
                pixels=pixels,
                damaged=still.damaged,
                repeated=repeated,
            )
            index += 1
        self._ended = self._reading is None or not self._reading.closed

    def notices(self) -> tuple[Notice, ...]:
        """Return what there is to say of the pictures as far as they were read."""
        where = self.path.name
        said = clip_notices(self.report(), where, rate_given=self._rate_hz is not None)
        return (*said, *self._depth.notices(where))

    def report(self) -> ClipReport:
        """Return what was met so far."""
        return self._log.report(
            self._header, ended=self._ended, incomplete=self._ended and not self._album.whole
        )

    def close(self) -> None:
        """Let go of the pictures; harmless when repeated."""
        if self._reading is not None:
            self._reading.close()

    def _stills(self) -> Iterator[Still]:
        if not self._ahead:
            return self._album.stills()
        self._reading = ReadAhead(self._album.stills())
        return self._reading

    def _time_ns(self, still: Still) -> int:
        if still.t_ns is not None and self._rate_hz is None:
            return still.t_ns
        return round(still.place * 1e9 / (self._rate_hz or _ASSUMED_RATE_HZ))


class GreyDepth:
    """How many of 16 bits pictures really use, and their way down to 8.

    Cameras of 10, 12 or 14 bits are often saved as 16 bits without being stretched: the upper
    8 bits alone would be nearly black. The depth is the least of 8, 10, 12, 14 and 16 that
    holds the first picture, and stays.

    Parameters
    ----------
    first : (H, W), uint8 or uint16.
    """

    def __init__(self, first: Raw) -> None:
        used = int(first.max()).bit_length()
        stored = 8 * first.itemsize
        self._assumed = stored == 16 and used <= 14
        self._bits = next(bits for bits in _DEPTHS if bits >= used) if stored == 16 else 8
        self._clipped = 0

    def shown(self, raw: Raw) -> NDArray[np.uint8]:
        """Return `raw` as uint8, (H, W), read-only."""
        pixels = raw if raw.dtype == np.uint8 else self._reduced(raw)
        pixels.setflags(write=False)
        return pixels  # type: ignore[return-value]

    def notices(self, where: str) -> tuple[Notice, ...]:
        """Return a notice where the depth had to be assumed."""
        if not self._assumed:
            return ()
        text = f"16-bit pictures are taken to use {self._bits} bits"
        if self._clipped:
            text += f", and {self._clipped} of them are brighter in places"
        level = Level.DOUBT if self._clipped else Level.INFO
        return (Notice(level=level, code=Code.GREY_DEPTH_ASSUMED, text=text, where=where),)

    def _reduced(self, raw: Raw) -> NDArray[np.uint8]:
        shifted = raw >> (self._bits - 8)
        if self._bits < 16 and int(shifted.max()) > 255:
            self._clipped += 1
            shifted = np.minimum(shifted, 255)
        return shifted.astype(np.uint8)
