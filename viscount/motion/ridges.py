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
    """Return the path of steps, one a window, with the greatest sum (Viterbi)."""
    windows, steps = score.shape
    back = np.zeros((windows, steps), dtype=np.intp)
    best = score[0].copy()
    drifts = sorted(range(-DRIFT_PER_WINDOW, DRIFT_PER_WINDOW + 1), key=abs)
    for window in range(1, windows):
        reach, origin = np.full(steps, -np.inf), np.arange(steps)
        for drift in drifts:
            moved = _shifted(best, trend + drift) - DRIFT_COST * max(abs(drift) - FREE_DRIFT, 0)
            better = moved > reach
            reach = np.where(better, moved, reach)
            origin = np.where(better, np.arange(steps) - (trend + drift), origin)
        back[window] = origin
        best = reach + score[window]
    path = np.empty(windows, dtype=np.intp)
    path[-1] = int(np.argmax(best))
    for window in range(windows - 1, 0, -1):
        path[window - 1] = back[window, path[window]]
    return path


def _shifted(row: Floats, shift: int) -> Floats:
    out = np.full_like(row, -np.inf)
    if shift == 0:
        return row
    if shift > 0:
        out[shift:] = row[:-shift]
    else:
        out[:shift] = row[-shift:]
    return out
