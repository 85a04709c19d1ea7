"""Small things that can be followed from frame to frame: they move, evenly or as parts fall.

Noise and compression make small regions too, but those flash up, or stay where they are.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

OFF_PX = 1.0
"""By so much a small region's place may be off, in either direction."""

LEAST_FRAMES, LEAST_PX = 5, 1.0
"""What was met in so many frames on end, and is now further than this from where it was first,
moves. Five places on one path leave three that chance must hit, each within some square px."""

_MOST = 200
"""Regions of one frame that are looked at; more are a pattern."""

_CHAINS = 4096
"""Beginnings of paths that are kept in mind."""

Floats = NDArray[np.float64]


def followed(
    frames: NDArray[np.int64], places: Floats, *, reach_px: float, bend_px: tuple[float, float]
) -> NDArray[np.bool_]:
    """Return which regions end a path of `LEAST_FRAMES` frames or more that has led somewhere.

    Parameters
    ----------
    frames : (n,) ascending numbers of the frames in which the regions were seen.
    places : (n, 2) x and y in px.
    reach_px : the furthest that anything moves from frame to frame.
    bend_px : by how much the step of what falls grows from frame to frame, in x and y; steps
        may grow by anything from nothing up to that.
    """
    moves = np.zeros(frames.size, dtype=np.bool_)
    bend = np.asarray(bend_px)
    # One row a path: where it began, where it is, its last step (x and y each), frames.
    paths = np.empty((0, 7))
    last, before = np.empty((0, 2)), -2
    starts = np.flatnonzero(np.diff(frames, prepend=-2, append=np.iinfo(np.int64).max))
    for low, high in pairwise(starts.tolist()):
        now = places[low : min(high, low + _MOST)]
        if frames[low] != before + 1:
            paths, last = np.empty((0, 7)), np.empty((0, 2))
        off = now - (paths[:, None, 2:4] + paths[:, None, 4:6] + bend / 2)
        one, here = np.nonzero((np.abs(off) <= np.abs(bend) / 2 + OFF_PX).all(axis=2))
        grown = _rows(paths[one, :2], paths[one, 2:4], now[here], paths[one, 6] + 1)
        led = np.abs(grown[:, 2:4] - grown[:, :2]).max(axis=1, initial=0.0) > LEAST_PX
        moves[low + here[led & (grown[:, 6] >= LEAST_FRAMES)]] = True
        one, here = np.nonzero((np.abs(now - last[:, None]) <= reach_px).all(axis=2))
        fresh = _rows(last[one], last[one], now[here], np.full(one.size, 2.0))
        paths = np.concatenate([grown, fresh])[:_CHAINS]
        last, before = now, int(frames[low])
    return moves


def _rows(began: Floats, was: Floats, now: Floats, count: Floats) -> Floats:
    return np.column_stack([began, now, now - was, count])
