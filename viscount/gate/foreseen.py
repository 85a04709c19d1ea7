"""The chance of an exact cut of a pour that nobody measured, by a gate's stroke nobody measured.

A delay that was chosen by some pours suits these better than those to come, and the fewer there
are the more so. So some pours and strokes are left out in turn, the delay is chosen by the rest,
and tried on what was left out (cross-validation; M. Stone, J. R. Stat. Soc. B 36 (1974) 111).
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.gate.best import best_delay

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_POUR_FOLDS: Final = 10
_STROKE_FOLDS: Final = 4
_MOST: Final = 5000
"""So many trials are enough to choose a delay by."""


def foreseen(earliest_s: Floats, latest_s: Floats, stroke: Ints) -> float | None:
    """Return the chance; None where there are no two pours.

    Parameters
    ----------
    earliest_s, latest_s : (pours, draws, s) ends of the delays with which each trial is exact.
    stroke : (pours, draws, s) which stroke each trial has, from 0.
    """
    pours = len(earliest_s)
    if pours < 2:
        return None
    step = max(1, earliest_s.size // _MOST)
    early, late, which = earliest_s[:, ::step], latest_s[:, ::step], stroke[:, ::step]
    pour_fold = np.arange(pours) % min(pours, _POUR_FOLDS)
    strokes = int(stroke.max()) + 1
    # A lone stroke can not be left out.
    stroke_fold = which % min(strokes, _STROKE_FOLDS) if strokes > 1 else np.full(which.shape, -1)
    met = tried = 0
    for k in np.unique(pour_fold):
        out, rest = pour_fold == k, pour_fold != k
        for f in np.unique(stroke_fold):
            others = stroke_fold[rest] != f if f >= 0 else np.ones(which[rest].shape, np.bool_)
            own = stroke_fold[out] == f
            best = best_delay(early[rest][others], late[rest][others])
            tried += int(own.sum())
            if best is not None:
                held = (early[out] <= best.delay_s) & (best.delay_s <= late[out])
                met += int((held & own).sum())
    return met / tried if tried else None
