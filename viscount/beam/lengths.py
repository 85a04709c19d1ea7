"""Pulses as rows of lengths, split where something between them is not known."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from viscount.beam.weighing import Stretches
from viscount.values import Pulse, Unwatched

Floats = NDArray[np.float64]


def factors(count: int, unit: str, speed: float | Sequence[float] | None) -> Floats:
    """Return the length in `unit` of a nanosecond at each of `count` pulses.

    `speed` is in units per second, one for all or one for each; of no account for "ms".
    """
    if unit == "ms":
        return np.full(count, 1e-6)
    if speed is None:
        raise ValueError(f"lengths in {unit} need a speed")
    return np.broadcast_to(np.asarray(speed, dtype=np.float64), (count,)) * 1e-9


def rows(
    pulses: Sequence[Pulse], factor: Floats, unwatched: Sequence[Unwatched] = ()
) -> Iterator[tuple[int, Stretches]]:
    """Yield (index of its first pulse, lengths) for each row of pulses that belong together."""
    starts = np.array([p.start_ns for p in pulses], dtype=np.int64)
    ends = np.array([p.end_ns for p in pulses], dtype=np.int64)
    darks = (ends - starts) * factor
    lights = np.zeros(len(pulses))
    lights[1:] = np.maximum((starts[1:] - ends[:-1]) * factor[1:], 0.0)
    cut = np.array([p.cut or p.lost_edges > 0 for p in pulses], dtype=np.bool_)
    epochs = np.array([p.epoch for p in pulses])
    behind_gaps = _behind_gaps(epochs, starts, unwatched)
    torn = np.zeros(len(pulses) + 1, dtype=np.bool_)
    torn[[k for begin in behind_gaps for k in (begin - 1, begin) if k >= 0]] = True
    begins = {0, *(np.flatnonzero(np.diff(epochs)) + 1).tolist(), *behind_gaps, len(pulses)}
    for first, last in pairwise(sorted(begins)):
        own = slice(first, last)
        yield (
            first,
            Stretches(darks=darks[own], lights=lights[own], cut=cut[own], torn=torn[own]),
        )


def _behind_gaps(
    epochs: NDArray[np.int64], starts: NDArray[np.int64], unwatched: Sequence[Unwatched]
) -> set[int]:
    """Return the first pulse behind each gap, or the number of pulses."""
    begins: set[int] = set()
    for gap in unwatched:
        first, last = np.searchsorted(epochs, [gap.epoch, gap.epoch + 1])
        after = int(first + np.searchsorted(starts[first:last], gap.start_ns, side="right"))
        # A pulse that a gap ends may start with it; the one behind it begins the row.
        begins.add(after)
        begins.add(int(first + np.searchsorted(starts[first:last], gap.end_ns, side="left")))
    return begins
