"""The account of a live run's frames, in memory that does not grow."""

import statistics
from collections import deque
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.run import FrameFigures
from viscount.values import Level, Notice

RECENT = 65
_POINTS_A_SIDE = 32
_GAP = 1.5


class FrameBook:
    """Counts frames, and what is missing between them.

    Attributes
    ----------
    dropped : frames that came too fast to be counted.
    """

    def __init__(self) -> None:
        self.dropped = 0
        self._counted = self._repeated = self._damaged = self._lost = self._gaps = 0
        self._longest_ns = 0
        self._steps: deque[int] = deque(maxlen=RECENT)
        self._regular_ns = self._regular = 0
        self._last_ns: int | None = None
        self._previous: NDArray[np.uint8] | None = None

    @property
    def counted(self) -> int:
        """Frames that were counted."""
        return self._counted

    @property
    def rate_hz(self) -> float | None:
        """Frames in a second, gaps left out."""
        return 1e9 * self._regular / self._regular_ns if self._regular_ns else None

    def is_repeated(self, pixels: NDArray[np.uint8]) -> bool:
        """Whether a picture equals the one before it, pixel for pixel."""
        previous, self._previous = self._previous, pixels
        if previous is None or previous.shape != pixels.shape:
            return False
        step = max(1, min(pixels.shape) // _POINTS_A_SIDE)
        sparse = (slice(None, None, step),) * 2
        return np.array_equal(previous[sparse], pixels[sparse]) and np.array_equal(previous, pixels)

    def repeated(self) -> None:
        """Note a frame that shows the picture of the one before."""
        self._repeated += 1

    def damaged(self) -> None:
        """Note a frame whose picture is damaged."""
        self._damaged += 1

    def count(self, t_ns: int) -> None:
        """Note a frame that is counted."""
        self._counted += 1
        last, self._last_ns = self._last_ns, t_ns
        if last is None:
            return
        step = t_ns - last
        usual = statistics.median_low(self._steps) if len(self._steps) > 2 else step
        if step > _GAP * usual:
            self._gaps += 1
            self._lost += max(round(step / usual) - 1, 1)
            self._longest_ns = max(self._longest_ns, step)
        else:
            self._regular_ns += step
            self._regular += 1
        self._steps.append(step)

    def figures(self) -> FrameFigures:
        """Return what a tally tells of the frames."""
        return FrameFigures(
            read=self._counted,
            lost=self._lost,
            repeated=self._repeated,
            damaged=self._damaged,
            rate_hz=self.rate_hz,
        )

    def notices(self, where: str) -> Iterator[Notice]:
        """Yield what there is to say of the frames; whether a gap matters is judged elsewhere."""
        said = []
        if self._lost:
            text = (
                f"{self._lost} frame{'s' * (self._lost > 1)} missing in {self._gaps} "
                f"gap{'s' * (self._gaps > 1)}; the longest is {self._longest_ns / 1e6:.1f} ms"
            )
            said.append((Code.FRAMES_LOST, text))
        if self._damaged:
            said.append((Code.FRAMES_DAMAGED, f"{self._damaged} damaged frames were left out"))
        if self._repeated:
            text = f"{self._repeated} frames show the picture of the frame before them"
            said.append((Code.FRAMES_REPEATED, text))
        if self.dropped:
            text = (
                f"{self.dropped} frames came faster than they could be counted, and were left out"
            )
            said.append((Code.FRAMES_DROPPED, text))
        for code, text in said:
            yield Notice(level=Level.INFO, code=code, text=text, where=where)
