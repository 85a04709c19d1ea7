"""The command delay with which most cuts are exact.

Each trial (a draw of a pour, a stroke of the gate, a lateness of the command) is exact for the
delays of one interval, as `viscount.window` says. The best delay is where most intervals overlap,
found by sweeping over their ends.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NEARLY: Final = 1e-3
"""Delays whose chance is less than this below the greatest count as good as the best."""
_NEARLY_SHARE: Final = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Best:
    """The best delay in s, the middle of those that are as good; and its chance."""

    delay_s: float
    least_s: float
    most_s: float
    chance: float

    @property
    def width_s(self) -> float:
        """How far the delay may be off before the chance falls."""
        return self.most_s - self.least_s


def best_delay(earliest_s: Floats, latest_s: Floats, *, from_s: float = 0.0) -> Best | None:
    """Return the delay that lies in most of the intervals, or None where it lies in none.

    Parameters
    ----------
    earliest_s, latest_s : (m,) ends of each trial's interval, empty where the first is greater.
    from_s : no delay is less: nothing is commanded before it is known.
    """
    trials = earliest_s.size
    low = np.maximum(earliest_s, from_s)
    possible = low <= latest_s
    low, high = np.sort(low[possible]), np.sort(latest_s[possible])
    if not low.size:
        return None
    # How many intervals hold each of the lower ends; the greatest overlap begins at one of them.
    held = np.searchsorted(low, low, side="right") - np.searchsorted(high, low, side="left")
    top = int(np.argmax(held))
    most = int(held[top])
    enough = most - min(NEARLY * trials, _NEARLY_SHARE * most)
    start, end = _as_good(low, high, float(low[top]), enough)
    delay = (start + end) / 2
    inside = np.searchsorted(low, delay, side="right") - np.searchsorted(high, delay, side="left")
    return Best(delay_s=delay, least_s=start, most_s=end, chance=float(inside) / trials)


def _as_good(low: Floats, high: Floats, best: float, enough: float) -> tuple[float, float]:
    """Return the stretch around the best delay in which enough intervals overlap."""
    before = np.searchsorted(low, low, side="left") - np.searchsorted(high, low, side="left")
    after = np.searchsorted(low, high, side="right") - np.searchsorted(high, high, side="right")
    falls_left = np.flatnonzero((low <= best) & (before < enough))
    falls_right = np.flatnonzero((high >= best) & (after < enough))
    return float(low[falls_left[-1]]), float(high[falls_right[0]])
