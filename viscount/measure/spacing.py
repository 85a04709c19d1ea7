"""Spacing, interval and gap between the parts of a pour, at the counting line."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from viscount.tally import SpacingTally, Spread
from viscount.values import Direction, Passage

Floats = NDArray[np.float64]


def spacing_at_line(
    pours: Sequence[Sequence[Passage]], scale_px_per_mm: float | None
) -> SpacingTally | None:
    """Return the spread of spacing, interval and gap between neighbours of the same pour.

    Interval is the time from one crossing to the next; spacing is interval times the speed of
    the later part; gap is interval less the time the earlier part takes to clear the line.
    None where no pour has two parts.
    """
    pairs = [pair for pour in pours for pair in _neighbours(pour)]
    if not pairs:
        return None
    interval_s = np.array([(b.t_ns - a.t_ns) * 1e-9 for a, b in pairs])
    spacing_px = interval_s * np.array([b.speed_px_s for _, b in pairs])
    clear_s = np.array([_clearing_s(a) for a, _ in pairs])
    gaps = 1e3 * (interval_s - clear_s)
    scaled = scale_px_per_mm is not None
    return SpacingTally(
        n=len(pairs),
        spacing_mm=_spread(spacing_px / scale_px_per_mm) if scaled else None,
        interval_ms=_spread(1e3 * interval_s),
        gap_ms=_spread(gaps[np.isfinite(gaps)]),
    )


def _neighbours(pour: Sequence[Passage]) -> list[tuple[Passage, Passage]]:
    through = [p for p in pour if p.direction is Direction.WITH and p.parts > 0]
    return list(pairwise(through))


def _clearing_s(passage: Passage) -> float:
    if passage.length_px is None or passage.speed_px_s <= 0:
        return float("nan")
    return passage.length_px / passage.speed_px_s


def _spread(values: Floats) -> Spread | None:
    if not values.size:
        return None
    p05, p50, p95 = (float(v) for v in np.percentile(values, (5, 50, 95)))
    return Spread(min=float(values.min()), p05=p05, p50=p50, p95=p95, max=float(values.max()))
