"""Explains a row of any length in memory that does not grow with it."""

from collections.abc import Iterator

from viscount.beam.explaining import Spread, Told, explained
from viscount.beam.weighing import Stretches, Weighing

LONGEST = 512
"""So many pulses are explained at once."""


def in_pieces(weighing: Weighing, row: Stretches) -> Iterator[tuple[int, list[Told], Spread]]:
    """Yield (index of its first pulse, its story, its spread) for each piece of a row.

    A long row is cut where its story is surest that one part ends and another begins; never by
    its lights, of which the longest may be bores.
    """
    first, count = 0, len(row.darks)
    while count - first > LONGEST:
        told, _ = explained(weighing.weights(row.within(first, first + LONGEST)))
        # What comes behind the piece tells of its last pulses, too.
        early = [i for i, t in enumerate(told[:-1]) if LONGEST // 2 <= t.last < LONGEST * 3 // 4]
        surest = min(early or [0], key=lambda i: told[i].doubt + told[i + 1].doubt)
        last = first + told[surest].last + 1
        yield first, *explained(weighing.weights(row.within(first, last)))
        first = last
    yield first, *explained(weighing.weights(row.within(first, count)))
