"""Where the names of marks stand, so that none covers another."""

from collections.abc import Sequence


def spread(
    wanted: Sequence[float], sizes: Sequence[float], low: float, high: float, gap: float = 0.0
) -> tuple[float, ...]:
    """Return where labels begin along one line, each as near to where it is wanted as can be.

    Parameters
    ----------
    wanted : the middle that each label would have if it were alone.
    sizes : how long each is.
    low, high : where the line begins and ends. Where there is too little room for all, they go
        beyond `high` rather than over each other.
    gap : the least room between two.
    """
    order = sorted(range(len(wanted)), key=lambda i: (wanted[i], i))
    # Labels that touch are one block around the mean of what they want.
    blocks: list[tuple[list[int], float, float]] = []
    for i in order:
        members, start, size = [i], wanted[i] - sizes[i] / 2, sizes[i]
        start = _clipped(start, size, low, high)
        while blocks and blocks[-1][1] + blocks[-1][2] + gap > start:
            before, _, before_size = blocks.pop()
            members, size = before + members, before_size + gap + size
            start = _clipped(_best_start(members, wanted, sizes, gap), size, low, high)
        blocks.append((members, start, size))
    starts = [0.0] * len(wanted)
    for members, start, _ in blocks:
        for i in members:
            starts[i] = start
            start += sizes[i] + gap
    return tuple(starts)


def _best_start(
    members: Sequence[int], wanted: Sequence[float], sizes: Sequence[float], gap: float
) -> float:
    """Return where a block begins whose labels are off by the least in all (least squares)."""
    offset = total = 0.0
    for i in members:
        total += wanted[i] - sizes[i] / 2 - offset
        offset += sizes[i] + gap
    return total / len(members)


def _clipped(start: float, size: float, low: float, high: float) -> float:
    return max(min(start, high - size), low)
