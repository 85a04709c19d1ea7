"""The line time from what a rolling shutter makes of parts that speed up: a check, no measure.

Read along the fall, a part at v is seen ``1 / (1 - v T)`` times as long (`measure.readout`), so
``1 / length`` falls by ``T / L`` for each px/s that it gains. Lengths are taken at half grey, which
the smear of the exposure does not move. A tilted camera shows parts longer towards one end of the
view all the same: that is most of the uncertainty.
"""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.measure.line_time.estimate import LineBy, LineTime
from viscount.measure.scale.budget import Budget, Input
from viscount.measure.scale.part_size import MAD_TO_SIGMA, Sized

Floats = NDArray[np.float64]

LEAST_PARTS: Final = 4
LEAST_SIGHTS: Final = 4
LEAST_GAIN: Final = 0.15
"""Share of its speed that a part must gain while it is seen."""


def line_time_by_fall(parts: Sequence[Sized], *, growth_u: float, source: str) -> LineTime | None:
    """Return the line time along the fall, negative where lines run against it.

    None where too few parts are seen often enough, or gain too little speed.

    Parameters
    ----------
    growth_u : standard uncertainty of the share by which the scale grows over the view.
    """
    found, gains = [], []
    for part in parts:
        one = _of_part(part)
        if one is not None:
            found.append(one[0])
            gains.append(one[1])
    if len(found) < LEAST_PARTS:
        return None
    each: Floats = np.array(found)
    n = each.size
    middle = float(np.median(each))
    spread = MAD_TO_SIGMA * float(np.median(np.abs(each - middle)))
    # The whole view's change of scale, over what parts gain in it.
    tilt = growth_u / max(float(np.median(gains)), 1e-9)
    inputs = (
        Input(name="scatter of the parts", u=1.25 * spread / math.sqrt(n), freedom=n - 1),
        Input(name="tilt and perspective", u=tilt),
    )
    return LineTime(
        by=LineBy.FALL,
        source=source,
        seconds=middle,
        budget=Budget(inputs=inputs),
        what=f"{n} parts change their length as they speed up",
    )


def _of_part(part: Sized) -> tuple[float, float] | None:
    """Return one part's own line time, and the speed in px/s that it gains."""
    if len(part.extents) < LEAST_SIGHTS:
        return None
    speeds = np.array(part.speeds_px_s)
    gain = float(np.ptp(speeds))
    if gain < LEAST_GAIN * float(np.median(speeds)):
        return None
    inverse = 1.0 / np.array([one.along for one in part.extents])
    slope, at_rest = np.polyfit(speeds, inverse, 1)
    return (float(-slope / at_rest), gain) if at_rest > 0 else None
