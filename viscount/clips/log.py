"""The log of the pictures read so far, from which the report is drawn."""

from array import array

import numpy as np

from viscount.clips.luma import Pixels
from viscount.clips.pace import measure_pace
from viscount.clips.report import ClipReport, Header

# Pictures are compared at about this many points a side before they are compared in full.
_POINTS_A_SIDE = 32


class PictureLog:
    """Notes each picture as it is handed on.

    Memory grows by 8 bytes a picture. One picture is kept, to tell whether the next repeats it.
    """

    def __init__(self) -> None:
        self._times_ns = array("q")
        self._repeated_at = array("q")
        self._damaged = 0
        self._untimed = 0
        self._previous: Pixels | None = None

    def add(self, t_ns: int, pixels: Pixels, *, damaged: bool, untimed: bool = False) -> bool:
        """Note a picture that is handed on; return whether it equals the one before."""
        repeated = self._previous is not None and _equal(self._previous, pixels)
        if repeated:
            self._repeated_at.append(len(self._times_ns))
        self._previous = pixels
        self._times_ns.append(t_ns)
        self._damaged += damaged
        self._untimed += untimed
        return repeated

    def add_unusable(self) -> None:
        """Note a picture that cannot be handed on."""
        self._damaged += 1

    def report(
        self,
        header: Header,
        *,
        tick_ns: float = 0.0,
        undecodable: int = 0,
        incomplete: bool = False,
        ended: bool = False,
        scale: float = 1.0,
    ) -> ClipReport:
        """Return the report so far. `tick_ns` is the step in which times are stored."""
        times_ns = np.array(self._times_ns, np.int64)
        return ClipReport(
            header=header,
            read=len(times_ns),
            last_t_ns=int(times_ns[-1]) if len(times_ns) else 0,
            damaged=self._damaged + undecodable,
            repeated_at=tuple(self._repeated_at),
            untimed=self._untimed,
            incomplete=incomplete,
            ended=ended,
            pace=measure_pace(times_ns, tick_ns),
            scale=scale,
        )


def _equal(one: Pixels, other: Pixels) -> bool:
    step = max(1, min(one.shape) // _POINTS_A_SIDE)
    sparse = (slice(None, None, step),) * 2
    return np.array_equal(one[sparse], other[sparse]) and np.array_equal(one, other)
