"""Each to its nearest, where the choice is mutual; for fitting clocks, never for counting."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.int64]


def nearest(values: Floats, to: Floats) -> Places:
    """Return for each of `values` the place of the nearest of ascending, non-empty `to`."""
    after = np.clip(np.searchsorted(to, values), 1, max(to.size - 1, 1))
    before = after - 1
    after = np.minimum(after, to.size - 1)
    nearer = np.abs(to[after] - values) < np.abs(values - to[before])
    return np.where(nearer, after, before).astype(np.int64)


def mutual(first: Floats, second: Floats, within: Floats) -> tuple[Places, Places]:
    """Return the places (n,), (n,) of pairs that are each other's nearest.

    `first` and `second` are ascending; `within` holds how far each of `first` may be off.
    """
    if not first.size or not second.size:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    to_second = nearest(first, second)
    back = nearest(second[to_second], first)
    own = np.arange(first.size)
    good = (back == own) & (np.abs(second[to_second] - first) <= within)
    return own[good].astype(np.int64), to_second[good]
