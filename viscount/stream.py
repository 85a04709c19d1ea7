"""The parts of one pour as a stream, carried by the law of the fall from the line to any height.

The unit of length is the caller's (mm or px), as in `viscount.fall`; times are in s. What each
part is off by itself and what all parts share (the acceleration, the scale, a height) are kept
apart: the second hardly touches an interval, and is most of what is unknown of an arrival.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from viscount import fall

Floats = NDArray[np.float64]

AT_REST = 1e-6
"""A part at rest is taken to move by this share of its speed at the line: its time is vague, but
a finite figure."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Poured:
    """The n parts of one pour as they crossed the counting line, in order of crossing.

    Attributes
    ----------
    unit : of all lengths, "mm" or "px".
    t_s : (n,) when centres crossed, from the run's first frame.
    sigma_s : (n,) standard uncertainty of each time, its own.
    speed, sigma_speed : (n,) along the fall at the line, > 0, and each one's own uncertainty.
    ahead, behind : (n,) from the centre to the leading end, and to the trailing end, > 0.
    sigma_end : standard deviation of an end from part to part.
    sigma_end_rate : by how much more an end may be off for each s from the line: parts turn.
    doubt : (n,) chance that this is not exactly one part, 0 to 1.
    acceleration, sigma_acceleration : of every part, and what all share of its uncertainty.
    sigma_speed_share : relative uncertainty of all speeds together, the scale's for instance.
    """

    unit: str
    t_s: Floats
    sigma_s: Floats
    speed: Floats
    sigma_speed: Floats
    ahead: Floats
    behind: Floats
    sigma_end: float
    doubt: Floats
    acceleration: float
    sigma_acceleration: float
    sigma_speed_share: float = 0.0
    sigma_end_rate: float = 0.0

    def __len__(self) -> int:
        return len(self.t_s)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stream:
    """The same parts as they pass one height.

    Attributes
    ----------
    below_line : the height, downstream from the counting line.
    centre_s, head_s, tail_s : (n,) when centre, leading end and trailing end are there.
    speed : (n,) there.
    own_s : (n,) standard uncertainty of each part's times, independent from part to part.
    common_s : by source, (n,) what one standard deviation of it adds to every part's times, with
        its sign: parts of one pour are off by it together.
    """

    below_line: float
    centre_s: Floats
    head_s: Floats
    tail_s: Floats
    speed: Floats
    own_s: Floats
    common_s: Mapping[str, Floats]

    @property
    def gap_s(self) -> Floats:
        """(n - 1,) clear time between each part's tail and the head of the next."""
        return self.head_s[1:] - self.tail_s[:-1]

    @property
    def gap_sigma_s(self) -> Floats:
        """(n - 1,) standard uncertainty of `gap_s`."""
        return self._between(self.own_s)

    @property
    def interval_s(self) -> Floats:
        """(n - 1,) from centre to centre."""
        return np.diff(self.centre_s)

    def _between(self, own: Floats) -> Floats:
        common = sum((np.diff(c) ** 2 for c in self.common_s.values()), np.zeros(len(own) - 1))
        return np.sqrt(own[1:] ** 2 + own[:-1] ** 2 + common)


def at_height(poured: Poured, below_line: float, *, sigma_height: float = 0.0) -> Stream:
    """Carry a pour to a height, downstream from the line (negative: upstream).

    Uncertainties by the law of propagation (JCGM 100, 5.1.2); see `viscount.fall.time_sigma` for
    the derivatives. A part that would have to fall from below that height is there at the time
    at which it would have been at rest.
    """
    u, a = poured.speed, poured.acceleration
    centre = fall.time_to(u, a, below_line)
    v = np.maximum(fall.speed_at(u, a, below_line), AT_REST * u)
    end = np.hypot(poured.sigma_end, poured.sigma_end_rate * centre)
    own = np.sqrt(poured.sigma_s**2 + (centre * poured.sigma_speed / v) ** 2 + (end / v) ** 2)
    common = {
        "acceleration": -(centre**2) * poured.sigma_acceleration / (2.0 * v),
        "speed": -centre * poured.sigma_speed_share * u / v,
        "height": np.full_like(v, sigma_height) / v,
    }
    return Stream(
        below_line=below_line,
        centre_s=poured.t_s + centre,
        head_s=poured.t_s + fall.time_to(u, a, below_line - poured.ahead),
        tail_s=poured.t_s + fall.time_to(u, a, below_line + poured.behind),
        speed=fall.speed_at(u, a, below_line),
        own_s=own,
        common_s=MappingProxyType(common),
    )
