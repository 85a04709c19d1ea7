"""Spacing, interval and gap between the parts of all pours of a tally, at the counting line."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from viscount.measure.neighbours import neighbours
from viscount.measure.poured import Pour
from viscount.tally import SpacingTally, Spread

Floats = NDArray[np.float64]


def spacing_at_line(pours: Sequence[Pour]) -> SpacingTally | None:
    """Return the spread of spacing, interval and gap between neighbours of the same pour.

    See `viscount.measure.neighbours` for what these are. None where no pour has two parts.
    """
    found = [neighbours(pour.poured) for pour in pours]
    found = [one for one in found if len(one)]
    if not found:
        return None
    in_mm = all(one.unit == "mm" for one in found)
    interval_ms = 1e3 * np.concatenate([one.interval_s for one in found])
    return SpacingTally(
        n=len(interval_ms),
        spacing_mm=spread(np.concatenate([one.spacing for one in found])) if in_mm else None,
        interval_ms=spread(interval_ms),
        gap_ms=spread(1e3 * np.concatenate([one.gap_s for one in found])),
    )


def spread(values: Floats) -> Spread | None:
    """Return percentiles of what is known of these values; None where nothing is."""
    known = values[np.isfinite(values)]
    if not known.size:
        return None
    p05, p50, p95 = (float(v) for v in np.percentile(known, (5, 50, 95)))
    return Spread(min=float(known.min()), p05=p05, p50=p50, p95=p95, max=float(known.max()))
