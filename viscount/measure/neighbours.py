"""Each part of a pour and the one after it: interval, spacing and gap at one height.

Spacing is the mean speed of the two there times the interval: under one acceleration that is
exactly how far their centres are apart midway in time between their two crossings.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from viscount.stream import AT_REST, Poured, at_height

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Neighbours:
    """The n - 1 pairs of neighbours of a pour of n at one height.

    Attributes
    ----------
    below_line : the height, downstream from the counting line, in `unit`.
    t_s : (n,) when centres are there. speed, sigma_speed : (n,) there.
    interval_s, sigma_interval_s : (n - 1,) from centre to centre in time.
    spacing, sigma_spacing : (n - 1,) from centre to centre along the fall.
    gap_s, sigma_gap_s : (n - 1,) from tail to head in time; negative where parts overlap, NaN
        where no length is known.

    All sigma are standard uncertainties, of what each part is off by itself and of what all are
    off together.
    """

    unit: str
    below_line: float
    t_s: Floats
    speed: Floats
    sigma_speed: Floats
    interval_s: Floats
    sigma_interval_s: Floats
    spacing: Floats
    sigma_spacing: Floats
    gap_s: Floats
    sigma_gap_s: Floats

    def __len__(self) -> int:
        return len(self.interval_s)


def neighbours(poured: Poured, below_line: float = 0.0, *, sigma_height: float = 0.0) -> Neighbours:
    """Return the neighbours of a pour at a height; both lengths in the pour's unit.

    Uncertainties by the law of propagation (JCGM 100, 5.1.2 and 5.2.2): a speed that is off makes
    a part late and its spacing wrong at once.
    """
    stream = at_height(poured, below_line, sigma_height=sigma_height)
    # What an end is off by is in the gaps alone.
    centres = at_height(
        replace(poured, sigma_end=0.0, sigma_end_rate=0.0), below_line, sigma_height=sigma_height
    )
    u, a = poured.speed, poured.acceleration
    v = np.maximum(stream.speed, AT_REST * u)
    tau = stream.centre_s - poured.t_s
    interval, mean = stream.interval_s, (v[1:] + v[:-1]) / 2.0
    # By source: what one standard deviation of it does to each time, and to each speed there.
    faster = {
        "acceleration": below_line * poured.sigma_acceleration / v,
        "speed": u**2 * poured.sigma_speed_share / v,
        "height": a * sigma_height / v,
    }
    own_speed = u * poured.sigma_speed / v
    late = tau * poured.sigma_speed / v
    half = interval / 2.0
    variance = (mean * poured.sigma_s[1:]) ** 2 + (mean * poured.sigma_s[:-1]) ** 2
    variance += (half * own_speed[1:] - mean * late[1:]) ** 2
    variance += (half * own_speed[:-1] + mean * late[:-1]) ** 2
    for source, more in faster.items():
        apart = np.diff(centres.common_s[source])
        variance += (mean * apart + half * (more[1:] + more[:-1])) ** 2
    return Neighbours(
        unit=poured.unit,
        below_line=below_line,
        t_s=stream.centre_s,
        speed=stream.speed,
        sigma_speed=np.sqrt(own_speed**2 + sum(more**2 for more in faster.values())),
        interval_s=interval,
        sigma_interval_s=centres.gap_sigma_s,
        spacing=mean * interval,
        sigma_spacing=np.sqrt(variance),
        gap_s=stream.gap_s,
        sigma_gap_s=stream.gap_sigma_s,
    )
