"""What kind of stream a pour is: a column, regular or random; told by its intervals.

A column of touching parts that slides with one acceleration lets go part n at
``t = start + k sqrt(n)``, with ``k = sqrt(2 p / a)`` (uniform acceleration over n pitches p).
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FEWEST_INTERVALS = 5
EVEN, LOOSE = 0.12, 0.35
"""Relative scatter below which a stream is regular; and beyond which it follows no rule."""
CLEARLY = 0.6
"""One rule is the better one where its scatter is below this share of the other's."""
MAD_TO_SIGMA = 1.4826


class Rhythm(StrEnum):
    """How the parts of a pour follow each other."""

    COLUMN = "column"
    REGULAR = "regular"
    RANDOM = "random"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beat:
    """What a pour's intervals follow.

    Attributes
    ----------
    rhythm : see `Rhythm`.
    expected_s : (m,) what each interval ought to be by that rule; by the usual one if none holds.
    scatter : relative scatter of the intervals about it (scaled median absolute deviation).
    variation : standard deviation over mean of the intervals; 1 of a wholly random stream.
    """

    rhythm: Rhythm
    expected_s: Floats
    scatter: float
    variation: float


def beat(interval_s: Floats, numbers: Floats) -> Beat:
    """Return what intervals follow; `numbers` (m + 1,) are the parts' in the pour, from 1."""
    usual = float(np.median(interval_s)) if interval_s.size else 0.0
    even = np.full(interval_s.size, usual)
    if interval_s.size < FEWEST_INTERVALS or usual <= 0.0:
        return Beat(rhythm=Rhythm.UNKNOWN, expected_s=even, scatter=0.0, variation=0.0)
    steps = np.diff(np.sqrt(numbers))
    column = steps * float(np.median(interval_s / steps))
    by_even, by_column = _scatter(interval_s, even), _scatter(interval_s, column)
    variation = float(np.std(interval_s) / np.mean(interval_s))
    if by_column < LOOSE and by_column < CLEARLY * by_even:
        return Beat(rhythm=Rhythm.COLUMN, expected_s=column, scatter=by_column, variation=variation)
    rhythm = Rhythm.REGULAR if by_even < LOOSE else Rhythm.RANDOM
    return Beat(rhythm=rhythm, expected_s=even, scatter=by_even, variation=variation)


def _scatter(interval_s: Floats, expected_s: Floats) -> float:
    return MAD_TO_SIGMA * float(np.median(np.abs(interval_s / expected_s - 1.0)))


def in_words(beat: Beat) -> str:
    """Say what kind of stream it is, in a sentence."""
    percent = f"{100 * beat.scatter:.2g} %"
    if beat.rhythm is Rhythm.COLUMN:
        return f"a column: intervals shrink as those of one sliding stack do, within {percent}"
    if beat.rhythm is Rhythm.REGULAR:
        loosely = "" if beat.scatter < EVEN else "loosely "
        return f"{loosely}regular: intervals are alike within {percent}"
    if beat.rhythm is Rhythm.RANDOM:
        return (
            f"random: no rule foretells an interval within {percent} "
            f"(standard deviation over mean {beat.variation:.2f})"
        )
    return "too few parts to tell what kind of stream it is"
