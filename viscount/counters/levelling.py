"""Whether pulses come later the farther to one side parts pass, and by how much.

A beam that is not parallel to the counting line is met sooner on one side; and where the readout
runs across the fall and its line time is not stated, one side is seen later than it says. The
first is a distance, the second a time.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from viscount.agreement.arrival import Arrival
from viscount.agreement.error_rates import BEAM_PARTS
from viscount.agreement.matching import nearest
from viscount.values import Pairing, Pairs

Floats = NDArray[np.float64]

FEWEST = 8
"""So many sure pairings at least must tell."""
MOST_DOUBT = 0.05
LEAST_SPAN_PX = 8.0
"""Parts of one narrow lane tell nothing."""
BETTER = 0.5
"""What is taken off leaves no more than this share of the scatter, by medians."""
STEEPEST = 0.2
"""A beam is no more askew than this, px along the fall for each px across it."""
SLOWEST_NS_PX = 200_000.0
"""No camera takes longer than this for one line."""
REACH_NS = 4e6
"""No lane is farther off than this."""
MOST = 8 * BEAM_PARTS
"""So many pairings tell as much as all."""


def levelled(arrivals: Sequence[Arrival], pairings: Sequence[Pairing]) -> list[Arrival] | None:
    """Return arrivals with that taken off, in the same order; None where there is no such thing.

    Slopes by Theil and Sen, which a quarter of wrong pairings leaves alone.
    """
    by_id = {a.passage.id: a for a in arrivals}
    own = [
        (by_id[p.passages[0]], p.late_ns)
        for p in pairings
        if p.late_ns is not None and p.doubt < MOST_DOUBT and len(p.passages) == 1
    ]
    own += [(by_id[k], late_ns) for k, late_ns in _beside_each_other(pairings)]
    own = own[:: max(len(own) // MOST, 1)]
    if len(own) < FEWEST:
        return None
    middle = float(np.median([a.passage.across_px for a, _ in own]))
    x = np.array([a.passage.across_px - middle for a, _ in own])
    late = np.array([late_ns for _, late_ns in own], dtype=np.float64)
    pace = np.array([max(abs(a.passage.speed_px_s), 1.0) for a, _ in own]) * 1e-9
    if float(np.subtract(*np.quantile(x, [0.9, 0.1]))) < LEAST_SPAN_PX:
        return None
    whole = _scatter(late)
    by_time, by_way = _slope(x, late), _slope(x, late * pace)
    left = _scatter(late - by_time * x), _scatter(late - by_way * x / pace)
    if min(left) > BETTER * whole:
        return None
    in_time = left[0] <= left[1]
    if abs(by_time) > SLOWEST_NS_PX if in_time else abs(by_way) > STEEPEST:
        return None
    return [_moved(a, middle, by_time if in_time else by_way, in_time=in_time) for a in arrivals]


def _beside_each_other(pairings: Sequence[Pairing]) -> list[tuple[int, int]]:
    """Return passages without a pulse, with how much later a pulse without a passage begins.

    Where one lane keeps time, the others may be too far off to be paired; each with the nearest.
    """
    seen, pulsed = (
        [p for p in pairings if p.kind is kind and p.t_ns is not None and not p.excused]
        for kind in (Pairs.CAMERA_ONLY, Pairs.BEAM_ONLY)
    )
    if not seen or not pulsed:
        return []
    ours = np.array([p.t_ns for p in seen], dtype=np.float64)
    theirs = np.array([p.t_ns for p in pulsed], dtype=np.float64)
    order = np.argsort(theirs, kind="stable")
    near = order[nearest(ours, theirs[order])]
    late = theirs[near] - ours
    return [
        (p.passages[0], round(float(off)))
        for p, off in zip(seen, late, strict=True)
        if abs(off) < REACH_NS and len(p.passages) == 1
    ]


def _moved(arrival: Arrival, middle: float, slope: float, *, in_time: bool) -> Arrival:
    late = slope * (arrival.passage.across_px - middle)
    if not in_time:
        late *= 1e9 / max(abs(arrival.passage.speed_px_s), 1.0)
    return replace(arrival, transit_ns=arrival.transit_ns + round(late))


def _slope(x: Floats, y: Floats) -> float:
    return float(stats.theilslopes(y, x).slope)


def _scatter(values: Floats) -> float:
    return float(np.median(np.abs(values - np.median(values))))
