"""Clear distances between parts that follow each other in the same lane."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from viscount.values import Direction, Passage

Floats = NDArray[np.float64]


def followers(passages: Sequence[Passage], width_px: float) -> list[tuple[Passage, Passage]]:
    """Return each single part with the next one that overlaps it across the fall.

    Parameters
    ----------
    passages : in order of time.
    width_px : of a part across the fall.
    """
    single = [p for p in passages if p.direction is Direction.WITH and p.parts == 1]
    pairs = []
    for place, one in enumerate(single):
        for other in single[place + 1 :]:
            if abs(other.across_px - one.across_px) < width_px:
                pairs.append((one, other))
                break
    return pairs


def spacings_px(pairs: Sequence[tuple[Passage, Passage]]) -> Floats:
    """Return the spacing of each pair at the line, (n,): interval times the later's speed."""
    return np.array([(b.t_ns - a.t_ns) * 1e-9 * b.speed_px_s for a, b in pairs])


def gaps_px(pairs: Sequence[tuple[Passage, Passage]]) -> Floats:
    """Return the clear distance of each pair whose earlier part has a length, (m,), m <= n."""
    with_length = [pair for pair in pairs if pair[0].length_px is not None]
    lengths = np.array([a.length_px for a, _ in with_length], dtype=np.float64)
    return spacings_px(with_length) - lengths
