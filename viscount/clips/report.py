"""What is known of a clip: what its header states, and what was met while reading it."""

from dataclasses import dataclass

from viscount.clips.pace import Gap, Pace

LOSSLESS = frozenset(
    {"ffv1", "rawvideo", "huffyuv", "ffvhuff", "utvideo", "png", "tif", "tiff", "bmp", "pgm"}
)
"""Codecs that keep every pixel. Others may be told to; a file does not say so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What the file says of itself. Measured values stand in `ClipReport`.

    Attributes
    ----------
    container, codec : short names.
    width, height : of the pictures as handed on, in px.
    rate_hz, frames, duration_s : as stated, or None. Files often state them wrongly.
    capture_tag : name of the tag that states the rate of capture, or None.
    capture_hz : what that tag says.
    timed : the format stores times. Where it does not, `rate_hz` is only assumed.
    """

    container: str
    codec: str
    width: int
    height: int
    rate_hz: float | None = None
    frames: int | None = None
    duration_s: float | None = None
    capture_tag: str | None = None
    capture_hz: float | None = None
    timed: bool = True

    @property
    def lossless(self) -> bool:
        """Whether the codec keeps the pictures as they were."""
        return self.codec in LOSSLESS


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipReport:
    """What was met so far; final once `ended` is true.

    Attributes
    ----------
    read : pictures handed on.
    last_t_ns : time of the last of them, as handed on; 0 before the first.
    damaged : pictures marked as damaged, and those that could not be decoded or used.
    repeated_at : indices of pictures that equal the one before, pixel for pixel.
    untimed : pictures whose time had to be estimated from their neighbours'.
    incomplete : the file ends before its stated end, was never finished, or holds data that
        could not be decoded.
    pace : interval and gaps, or None for fewer than two pictures.
    scale : how much shorter times are than in the file; 1 unless a capture rate was given.
    """

    header: Header
    read: int
    last_t_ns: int
    damaged: int
    repeated_at: tuple[int, ...]
    untimed: int
    incomplete: bool
    ended: bool
    pace: Pace | None
    scale: float = 1.0

    @property
    def repeated(self) -> int:
        """Number of repeated pictures."""
        return len(self.repeated_at)

    @property
    def lost(self) -> int:
        """Number of pictures missing in gaps of the times."""
        return self.pace.lost if self.pace is not None else 0

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """Where pictures are missing."""
        return self.pace.gaps if self.pace is not None else ()

    @property
    def rate_hz(self) -> float | None:
        """Measured rate, from the times as handed on."""
        return self.pace.rate_hz if self.pace is not None else None
