"""Delays chosen without the pour and the stroke on which they are tried.

A delay that was chosen by some pours suits these better than those to come, and the fewer there
are the more so. So some pours and strokes are left out in turn, and the rest choose the delay with
which these are tried (cross-validation; M. Stone, J. R. Stat. Soc. B 36 (1974) 111).
"""

from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.gate.best import best_delay

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_POUR_FOLDS: Final = 10
_STROKE_FOLDS: Final = 4


def delays_of_others(
    earliest_s: Floats, latest_s: Floats, stroke: NDArray[np.int64], *, strokes: int, else_s: float
) -> Floats:
    """Return (pours, strokes): the delay in s for each that the others choose.

    A pour or a stroke that is alone can not be left out.

    Parameters
    ----------
    earliest_s, latest_s : (pours, draws, s) ends of the delays with which each trial is exact.
    stroke : (pours, draws, s) which of the strokes each trial has, from 0.
    else_s : the delay where the others know of none.
    """
    delays = np.full((len(earliest_s), strokes), else_s)
    for (pours_out, pours_in), (strokes_out, strokes_in) in product(
        _turns(len(earliest_s), _POUR_FOLDS), _turns(strokes, _STROKE_FOLDS)
    ):
        others = strokes_in[stroke[pours_in]]
        best = best_delay(earliest_s[pours_in][others], latest_s[pours_in][others])
        if best is not None:
            delays[np.ix_(pours_out, strokes_out)] = best.delay_s
    return delays


def _turns(many: int, most: int) -> list[tuple[Bools, Bools]]:
    """Return which are left out and which are not, in each of `most` turns at most."""
    if many < 2:
        return [(np.ones(many, np.bool_), np.ones(many, np.bool_))]
    fold = np.arange(many) % min(many, most)
    return [(fold == k, fold != k) for k in range(min(many, most))]
