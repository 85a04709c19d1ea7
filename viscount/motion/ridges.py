"""Ridges through the votes: for each window of a pour one speed, changing slowly in between."""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

Floats = NDArray[np.float64]

DRIFT_PER_WINDOW, FREE_DRIFT = 6, 3
"""Steps of the grid by which the speed may change from one window to the next; so many of them
are free."""
DRIFT_COST = 0.5
"""Votes that each further step costs."""
LEAST_VOTES = 2.0
MAX_EXPLANATIONS = 8
LEAST_EXCESS = 0.4
"""A path stands out when this share of its votes is above what chance gives."""

_DRIFTS = np.array(sorted(range(-DRIFT_PER_WINDOW, DRIFT_PER_WINDOW + 1), key=abs))
"""The least first: of two that are as good, the lesser is taken."""
_COSTS = DRIFT_COST * np.maximum(np.abs(_DRIFTS) - FREE_DRIFT, 0)


def standing_out(found: Floats, width: float, trend: int = 0) -> list[NDArray[np.intp]]:
    """Return the paths through the grid with many votes above chance, the best first.

    Their speed changes by `trend` steps from each window to the next, more or less.
    """
    excess = found - chance(found, width)
    rows = np.arange(found.shape[0])
    radius = int(4 * width) + 1
    still_open = excess.copy()
    kept: list[NDArray[np.intp]] = []
    most = 0.0
    for _ in range(MAX_EXPLANATIONS):
        path = best_path(still_open, trend)
        votes, above = float(found[rows, path].sum()), float(excess[rows, path].sum())
        if votes < LEAST_VOTES or above < LEAST_EXCESS * max(votes, 0.3 * most):
            break
        most = max(most, above)
        kept.append(path)
        for window, step in enumerate(path):
            still_open[window, max(0, step - radius) : step + radius + 1] = -1e3
    return kept


def chance(found: Floats, width: float) -> Floats:
    """Return the votes that a speed gets by chance: those of the speeds around it."""
    return np.asarray(gaussian_filter1d(found, 8 * width, axis=1, mode="nearest"))


def best_path(score: Floats, trend: int = 0) -> NDArray[np.intp]:
    """Return the path of steps, one a window, with the greatest sum (Viterbi 1967)."""
    windows, steps = score.shape
    here = np.arange(steps)
    margin = DRIFT_PER_WINDOW + abs(trend)
    # What lies outside the grid is out of reach.
    best = np.full(steps + 2 * margin, -np.inf)
    inside = best[margin : margin + steps]
    inside[:] = score[0]
    origins = here - (trend + _DRIFTS[:, None])
    back = np.zeros((windows, steps), dtype=np.intp)
    for window in range(1, windows):
        reach = best[origins + margin] - _COSTS[:, None]
        drift = reach.argmax(axis=0)
        back[window] = np.clip(origins[drift, here], 0, steps - 1)
        inside[:] = reach[drift, here] + score[window]
    path = np.empty(windows, dtype=np.intp)
    path[-1] = int(np.argmax(inside))
    for window in range(windows - 1, 0, -1):
        path[window - 1] = back[window, path[window]]
    return path
