"""How things passed the line, as far as a strip must know it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.tally import Tally
from viscount.values import Direction

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """When and how fast parts passed, and how long they are; empty and 0 where unknown.

    Attributes
    ----------
    at_s, speed_px_s : (n,) each, in order of time.
    acceleration_px_s2 : the same for all.
    length_px : along the fall.
    """

    at_s: Floats
    speed_px_s: Floats
    acceleration_px_s2: float
    length_px: float

    @property
    def usual_px_s(self) -> float:
        """The median speed; 0 where nothing passed."""
        return float(np.median(self.speed_px_s)) if self.speed_px_s.size else 0.0

    def speed(self, at_s: Floats) -> Floats:
        """Return the speed on the line at these moments: that of the nearest part, then."""
        if not self.at_s.size:
            return np.zeros(at_s.size)
        middles = (self.at_s[1:] + self.at_s[:-1]) / 2
        nearest = np.searchsorted(middles, at_s)
        # A part's tail is faster on the line than its head was; far from any part nothing is.
        part_s = self.length_px / self.usual_px_s
        since = np.clip(at_s - self.at_s[nearest], -part_s, part_s)
        return np.asarray(self.speed_px_s[nearest] + self.acceleration_px_s2 * since)


def motion_of(tally: Tally) -> Motion:
    """Return how the tally's passages moved; only those with the fall are asked."""
    through = [
        p.passage
        for p in tally.passages
        if p.passage.direction is Direction.WITH and p.passage.speed_px_s > 0
    ]
    lengths = [p.length_px for p in through if p.length_px is not None]
    learned = (a.value for a in tally.assumed if a.code is Code.ACCELERATION_LEARNED)
    return Motion(
        at_s=np.array([p.t_ns * 1e-9 for p in through]),
        speed_px_s=np.array([p.speed_px_s for p in through]),
        acceleration_px_s2=next((v for v in learned if isinstance(v, float)), 0.0),
        length_px=float(np.median(lengths)) if lengths else 0.0,
    )
