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


def standing_out(found: Floats, width: float) -> list[NDArray[np.intp]]:
    """Return the paths through the grid with many votes above chance, the best first."""
    excess = found - chance(found, width)
    rows = np.arange(found.shape[0])
    radius = int(4 * width) + 1
    still_open = excess.copy()
    kept: list[NDArray[np.intp]] = []
    most = 0.0
    for _ in range(MAX_EXPLANATIONS):
        path = best_path(still_open)
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


def best_path(score: Floats) -> NDArray[np.intp]:
    """Return the path of steps, one a window, with the greatest sum (Viterbi)."""
    windows, steps = score.shape
    back = np.zeros((windows, steps), dtype=np.intp)
    best = score[0].copy()
    for window in range(1, windows):
        reach, origin = best.copy(), np.arange(steps)
        for shift in range(1, DRIFT_PER_WINDOW + 1):
            cost = DRIFT_COST * max(shift - FREE_DRIFT, 0)
            for sign in (-1, 1):
                moved = _shifted(best, sign * shift) - cost
                better = moved > reach
                reach = np.where(better, moved, reach)
                origin = np.where(better, np.arange(steps) - sign * shift, origin)
        back[window] = origin
        best = reach + score[window]
    path = np.empty(windows, dtype=np.intp)
    path[-1] = int(np.argmax(best))
    for window in range(windows - 1, 0, -1):
        path[window - 1] = back[window, path[window]]
    return path


def _shifted(row: Floats, shift: int) -> Floats:
    out = np.full_like(row, -np.inf)
    if shift > 0:
        out[shift:] = row[:-shift]
    else:
        out[:shift] = row[-shift:]
    return out
