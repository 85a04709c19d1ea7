"""Whether a file's clock runs slower than the world: gravity tells.

A clip slowed down n times shows every acceleration n² times too small.
"""

import math
from dataclasses import dataclass

from viscount import fall
from viscount.codes import Code
from viscount.values import Level, Notice

LIKE_GRAVITY = (0.72, 1.39)
"""An apparent g within these shares of standard gravity is gravity, with drag, a slightly wrong
scale and parts that hide each other in it. No player slows a clip by less than 60 for 50 (common
practice, no source), which makes it 0.69 times as great."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slowness:
    """Apparent gravity by the file's clock, and how many times that clock is slowed."""

    apparent_m_s2: float
    times: float

    def notice(self) -> Notice:
        """Say it."""
        kind = "slowed" if self.times > 1 else "hurried"
        factor = self.times if self.times > 1 else 1 / self.times
        text = (
            f"apparent g {self.apparent_m_s2:.2f} m/s2, capture about {factor:.3g}x {kind}; "
            "times, speeds and spacing are refused"
        )
        return Notice(level=Level.INFO, code=Code.CAPTURE_RATE_SLOWED, text=text)


def slowness(acceleration_px_s2: float, scale_px_per_mm: float) -> Slowness | None:
    """Return how far the clock is off, or None where the fall looks like a fall.

    Parameters
    ----------
    acceleration_px_s2 : of a free fall, by the file's clock; > 0.
    scale_px_per_mm : > 0.
    """
    share = acceleration_px_s2 / (scale_px_per_mm * fall.STANDARD_GRAVITY_MM_S2)
    if LIKE_GRAVITY[0] <= share <= LIKE_GRAVITY[1]:
        return None
    apparent = 1e-3 * share * fall.STANDARD_GRAVITY_MM_S2
    return Slowness(apparent_m_s2=apparent, times=1.0 / math.sqrt(share))
