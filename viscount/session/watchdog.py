"""Notices a camera that hangs, repeats itself or slows down. Times are handed in."""

from collections import deque
from dataclasses import dataclass

from viscount.codes import Code

SETTLED = 120
"""After so many frames a camera's rate is taken for known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a camera may do before it is opened again.

    Attributes
    ----------
    first_s : how long its first picture may take.
    silent_s, silent_intervals : no picture for longer than both is silence.
    repeats_s : nothing but the same picture for longer than this is hanging.
    slow_share, slow_s : a rate below this share of what it was, for so long, is too slow.
    """

    first_s: float = 10.0
    silent_s: float = 0.5
    silent_intervals: float = 8.0
    repeats_s: float = 2.0
    slow_share: float = 0.6
    slow_s: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """What is wrong with a camera."""

    code: Code
    text: str


class Watchdog:
    """Watches one camera, from its opening on.

    Parameters
    ----------
    opened_ns : when it was opened; all times are on one monotonic clock.
    watches_repeats : equal pictures are a sign of a camera that hangs.
    interval_ns : its usual interval, where that is known from before.
    """

    def __init__(
        self,
        opened_ns: int,
        *,
        limits: Limits | None = None,
        watches_repeats: bool = True,
        interval_ns: float | None = None,
    ) -> None:
        self._limits = limits or Limits()
        self._opened_ns = opened_ns
        self._watches_repeats = watches_repeats
        self._last_ns: int | None = None
        self._new_ns = opened_ns
        self._slow_ns: int | None = None
        self._longest_ns: int | None = None
        self._recent: deque[int] = deque(maxlen=SETTLED)
        self.interval_ns = interval_ns

    def frame(self, arrived_ns: int, *, repeated: bool) -> None:
        """Hear of a picture that has come."""
        if self._last_ns is not None:
            self._longest_ns = max(self._longest_ns or 0, arrived_ns - self._last_ns)
        self._last_ns = arrived_ns
        if not repeated:
            self._new_ns = arrived_ns
        self._recent.append(arrived_ns)
        self._watch_rate(arrived_ns)

    def trouble(self, now_ns: int) -> Trouble | None:
        """Return what is wrong by now, or None."""
        limits = self._limits
        if self._last_ns is None:
            waited_s = (now_ns - self._opened_ns) * 1e-9
            if waited_s <= limits.first_s:
                return None
            text = f"no picture within {waited_s:.1f} s of its opening"
            return Trouble(code=Code.CAMERA_SILENT, text=text)
        silent_ns = now_ns - self._last_ns
        if silent_ns > self._patience_ns():
            text = f"no picture for {silent_ns * 1e-9:.2f} s"
            return Trouble(code=Code.CAMERA_SILENT, text=text)
        same_s = (self._last_ns - self._new_ns) * 1e-9
        if self._watches_repeats and same_s > limits.repeats_s:
            text = f"the same picture for {same_s:.1f} s"
            return Trouble(code=Code.CAMERA_HANGS, text=text)
        if self._slow_ns is not None and now_ns - self._slow_ns > 1e9 * limits.slow_s:
            assert self.interval_ns is not None
            now_hz, was_hz = 1e9 / self._step_ns(), 1e9 / self.interval_ns
            text = f"{now_hz:.3g} pictures a second, where it sent {was_hz:.3g}"
            return Trouble(code=Code.CAMERA_SLOWED, text=text)
        return None

    def _patience_ns(self) -> float:
        """Return for how long silence is none yet; longer while the camera is not known well."""
        limits, usual = self._limits, self.interval_ns or self._longest_ns
        if usual is None:
            return 1e9 * limits.first_s
        return max(1e9 * limits.silent_s, limits.silent_intervals * usual)

    def _watch_rate(self, now_ns: int) -> None:
        """Learn the usual interval once; note since when pictures come slower."""
        if self.interval_ns is None:
            if len(self._recent) == SETTLED:
                self.interval_ns = (self._recent[-1] - self._recent[0]) / (SETTLED - 1)
            return
        slow = self._step_ns() * self._limits.slow_share > self.interval_ns
        if not slow:
            self._slow_ns = None
        elif self._slow_ns is None:
            self._slow_ns = now_ns

    def _step_ns(self) -> float:
        """Return the mean interval of the last pictures, of up to half a second."""
        newest = self._recent[-1]
        near = [t for t in self._recent if newest - t < 500_000_000]
        if len(near) < 2:
            near = list(self._recent)[-2:]
        return (near[-1] - near[0]) / max(len(near) - 1, 1) if len(near) > 1 else 0.0
