"""The coarse search: differences between two event lists vote for their offset.

Each pair of an arrival and a pulse votes for one offset. The true one gets a vote from nearly
every part; any other one gets those of chance alone, unless the stream is regular.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_VOTES = 2_000_000
"""No more differences than this are looked at for one search."""


def peaks_us(
    first_us: Floats,
    second_us: Floats,
    *,
    low_us: float,
    high_us: float,
    width_us: float,
    most: int,
) -> list[tuple[float, int]]:
    """Return the offsets ``second - first`` with the most votes, best first.

    Parameters
    ----------
    first_us, second_us : ascending.
    low_us, high_us : only offsets between these.
    width_us : votes within this width are taken together.
    most : how many peaks, further than `width_us` from each other.

    Returns
    -------
    (median of the votes, votes) of each peak, each from different events of `first`.
    """
    differences = _differences(first_us, second_us, low_us, high_us)
    if not differences.size:
        return []
    votes = np.searchsorted(differences, differences + width_us, side="right")
    votes = votes - np.arange(differences.size)
    found: list[tuple[float, int]] = []
    # A peak that overlaps a better one is that one's flank.
    enough = votes >= max(1, int(votes.max()) // 3)
    candidates = np.flatnonzero(enough)
    order = candidates[np.argsort(-votes[candidates], kind="stable")]
    taken: list[float] = []
    for k in order[: 200 * most]:
        start = float(differences[k])
        if any(abs(start - other) <= width_us for other in taken):
            continue
        taken.append(start)
        inside = differences[k : k + votes[k]]
        found.append((float(np.median(inside)), int(votes[k])))
        if len(found) == most:
            break
    return found


def _differences(first: Floats, second: Floats, low: float, high: float) -> Floats:
    """Return all differences within the limits, ascending."""
    start = np.searchsorted(second, first + low, side="left")
    stop = np.searchsorted(second, first + high, side="right")
    counts = stop - start
    total = int(counts.sum())
    if total == 0:
        return np.empty(0)
    rows = np.repeat(np.arange(first.size), counts)
    begun = np.repeat(np.cumsum(counts) - counts, counts)
    columns = np.arange(total) - begun + np.repeat(start, counts)
    return np.sort(second[columns] - first[rows])
