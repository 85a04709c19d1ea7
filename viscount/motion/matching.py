"""What it costs that a blob continues a track, and the cheapest explanation of a frame."""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from viscount.motion.detections import Detections
from viscount.motion.prediction import Prediction
from viscount.motion.speed import SpeedModel

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

GATE = 30.0
"""A sighting further than this (squared distance in sigma) from its prediction is no match."""
FORBIDDEN = 1e6
MATCH_NOISE_PX2 = 0.1
"""Variance allowed to a match beyond all that is known: a single frame's compression, a glint,
a part's wobble. Far below the distance to any neighbour."""
AREA_SIGMA = 0.5
"""A part's area may change this much, as a logarithm, from one frame to the next."""
UNLIKE_COST, SPECK_COST, DWINDLE_COST = 3.0, 9.0, 13.0
"""What a change of the area costs at most; where it is so great that one is a speck; and where a
part that has just begun to come in would be a speck."""
SPECK_GROWTH = 2.0
"""As a logarithm, from which change on one of the two is a speck."""
STEADY_SHARE, TURNED_SHARE = 0.07, 0.7
"""By the first share of its area what is seen of a part differs without its turning; what has lost
more than the second beyond that is no longer thought to be that part."""
PART_SHARE = 0.5
"""What never showed more than this share of a part's area is a piece of something."""


def match_costs(
    ahead: Prediction,
    now: Detections,
    centres: Floats,
    noise_y: Floats,
    noise_x: Floats,
    never: Flags,
    *,
    learned: bool,
) -> tuple[Floats, Floats]:
    """Return the costs (n, m) of all pairs, and the part of them that is deviation alone.

    Parameters
    ----------
    centres : (n, m) see `centres_of`.
    noise_y, noise_x : (n, m) variances of the centres, px².
    never : (n, m) pairs that cannot be, wherever the blob is.
    learned : whether it is known how parts move.
    """
    if not ahead.grown.size:
        nothing = np.full(ahead.grown.shape, FORBIDDEN)
        return nothing, nothing
    var_y = ahead.var_y + noise_y + MATCH_NOISE_PX2
    d_y = (centres - ahead.y) ** 2 / var_y
    d_x = (now.x - ahead.x) ** 2 / (ahead.var_x + noise_x)
    distance = d_y + d_x
    loose = 0.5 * np.log(np.maximum(var_y, 0.25) / 0.25)
    deviation = 0.5 * distance
    cost = deviation + _unlike(ahead, now, learned=learned) + np.minimum(loose, 4.0)
    return np.where((distance > GATE) | never, FORBIDDEN, cost), deviation


def _unlike(ahead: Prediction, now: Detections, *, learned: bool) -> Floats:
    """Return the costs (n, m) of areas that differ from those of the tracks.

    What a border cut before may only have grown since, what it cuts now only have shrunk. Where
    parts hide each other areas differ, but not as those of a part and a speck do. While nothing
    is learned of how parts move, they are followed through any change.
    """
    grown = np.minimum(ahead.grown, np.where(ahead.cut, 0.0, np.inf)[:, None])
    grown = np.maximum(grown, np.where(now.cut, 0.0, -np.inf))
    cost = grown**2 / (2 * AREA_SIGMA**2)
    speck = learned & (np.abs(grown) > SPECK_GROWTH)
    dwindles = speck & (ahead.cut & ahead.once)[:, None] & (grown < 0.0)
    most = np.where(dwindles, DWINDLE_COST, np.where(speck, SPECK_COST, UNLIKE_COST))
    return np.minimum(cost, most)


def turned(ahead: Prediction, now: Detections, model: SpeedModel) -> tuple[Floats, Floats]:
    """Return (n, m) variances of where the middle of a part that turned may be, px².

    Along the fall and across it. What shows less of itself than it did before has lost that share
    of its extent at one end, and its middle has moved by half of that at most. Nothing where it is
    not known how parts move, or where regions scatter anyhow: anything could be followed then.
    """
    # What two together showed is no part's.
    full = np.minimum(ahead.full, (1.0 + STEADY_SHARE) * model.area_px)[:, None]
    lost = np.maximum(1.0 - now.area / np.maximum(full, 1.0) - STEADY_SHARE, 0.0)
    part = model.tight & (full > PART_SHARE * model.area_px)
    lost = np.where(part & ~now.cut & (lost < TURNED_SHARE), lost, 0.0)
    length, breadth = model.ahead_px + model.behind_px, model.breadth_px
    return (0.5 * length * lost) ** 2, (0.5 * breadth * lost) ** 2


def centres_of(now: Detections, behind: Floats) -> Floats:
    """Return the centres (n, m) that the blobs have if they are these tracks' parts.

    A part that is leaving shows its upstream end only; its own shape, `behind` (n,) px from
    the centre to that end, says where its centre is.
    """
    own = np.maximum(behind[:, None], 0.5 * now.length)
    return np.where(now.cut_head & ~now.cut_tail, now.tail + own, now.y)


def assigned(match: Floats, births: Floats, deaths: Floats) -> list[tuple[int, int]]:
    """Return the pairs (track, blob) of the cheapest explanation of this frame."""
    n, m = match.shape
    size = n + m
    cost = np.full((size, size), FORBIDDEN)
    cost[:n, :m] = match
    cost[n:, m:] = 0.0
    row_by_row = cost.ravel()
    row_by_row[m : n * size : size + 1] = deaths
    row_by_row[n * size :: size + 1] = births
    _, columns = linear_sum_assignment(cost)
    return [(i, j) for i, j in enumerate(columns[:n].tolist()) if j < m]
