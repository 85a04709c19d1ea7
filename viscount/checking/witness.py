"""A detector that lets others see what it saw."""

from collections.abc import Sequence

from viscount.seams import Detector
from viscount.values import Frame, Sighting


class Witness:
    """Passes frames to a detector, and keeps the last frame with what was seen in it.

    Parameters
    ----------
    inner : the detector that does the seeing.
    """

    def __init__(self, inner: Detector) -> None:
        self._inner = inner
        self._last: tuple[Frame, Sighting] | None = None
        self.opening: list[Frame] = []
        """The frames that it was primed with, in the region that detectors are given."""

    def prime(self, frames: Sequence[Frame]) -> None:
        """Prime the detector, and keep the frames until somebody takes them."""
        self.opening = list(frames)
        self._inner.prime(frames)

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        """See, and remember."""
        sighting = self._inner.see(frame, learn=learn)
        self._last = (frame, sighting)
        return sighting

    def take(self) -> tuple[Frame, Sighting] | None:
        """Return the last frame and its sighting, once; None where there is no new one."""
        taken, self._last = self._last, None
        return taken
