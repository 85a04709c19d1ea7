"""How long parts are along the fall, without what pixels, exposure and readout add to them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.measure.readout import stretch
from viscount.outlet import Outlet, Readout
from viscount.values import Falls, Passage

Floats = NDArray[np.float64]

EDGE_PX, EDGE_SIGMA_PX = 0.6, 1.2
"""What a region is longer by than the part, exposure apart: it takes in every pixel that an end
darkens enough, and the lens smears both ends. As found on simulated pours of all kinds."""
SHOWN_SMEAR, SHOWN_SIGMA = 0.85, 0.15
"""Share of a smear that stands above the threshold, and its uncertainty: faint parts show less."""
USUAL_EXPOSURE_S, USUAL_SIGMA_S = 1e-4, 8e-5
"""An exposure that nobody stated is short, or the picture would not do to count by."""
P10_TO_P90 = 2.5631
"""From the 10th to the 90th percentile of a normal distribution, in standard deviations."""
LEAST_SHARE = 0.3
"""No part is thought to be less than this share of what is seen of it."""
MOST_STRETCH = 5.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lengths:
    """Lengths along the fall in px.

    Attributes
    ----------
    px : (n,) NaN where neither the picture nor a part file tells one.
    usual_px : of a single part; stands in where a passage has none.
    sigma_px : standard uncertainty that all share.
    spread_px : standard deviation of single parts' (by their 10th and 90th percentiles: lengths
        are whole px, and most of them may be the same).
    """

    px: Floats
    usual_px: float
    sigma_px: float
    spread_px: float


def lengths_of(
    passages: Sequence[Passage], outlet: Outlet, scale_px_per_mm: float | None
) -> Lengths:
    """Return how long the parts of these passages are along the fall."""
    seen = np.array([np.nan if p.length_px is None else p.length_px for p in passages])
    speed = np.array([abs(p.speed_px_s) for p in passages])
    single = np.array([p.parts == 1 for p in passages], dtype=bool)
    line_time_s = _line_time_along_s(outlet)
    longer = np.array([min(stretch(float(v), line_time_s), MOST_STRETCH) for v in speed])
    unstretched = seen / longer
    stated_us = outlet.camera.exposure_us
    exposure_s = USUAL_EXPOSURE_S if stated_us is None else 1e-6 * stated_us
    added = EDGE_PX + SHOWN_SMEAR * exposure_s * speed
    px = np.maximum(unstretched - added, LEAST_SHARE * unstretched)
    of_singles = px[single & np.isfinite(px)]
    usual_speed = float(np.median(speed)) if speed.size else 0.0
    sigma_exposure_s = USUAL_SIGMA_S if stated_us is None else SHOWN_SIGMA * exposure_s
    sigma = float(np.hypot(EDGE_SIGMA_PX, sigma_exposure_s * usual_speed))
    if of_singles.size:
        usual = float(np.median(of_singles))
        low, high = np.percentile(of_singles, (10, 90))
        spread = float(high - low) / P10_TO_P90
    else:
        along = None if outlet.part is None else outlet.part.along_fall_mm
        known = along is not None and scale_px_per_mm is not None
        usual = along * scale_px_per_mm if known else np.nan  # type: ignore[operator]
        spread = 0.0
    return Lengths(
        px=np.where(np.isfinite(px), px, usual), usual_px=usual, sigma_px=sigma, spread_px=spread
    )


def _line_time_along_s(outlet: Outlet) -> float:
    """Return the time from line to line along the fall; negative where read against it."""
    camera = outlet.camera
    if not camera.line_time_us or camera.readout in (None, Readout.GLOBAL):
        return 0.0
    readout, falls = Falls(camera.readout.value), outlet.falls
    if readout.vertical != falls.vertical:
        return 0.0
    return 1e-6 * camera.line_time_us * falls.sign * readout.sign
