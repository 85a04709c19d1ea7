"""One way to the line time and what it found; and ways put together."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from viscount.codes import Code
from viscount.measure.scale.budget import Budget
from viscount.values import Falls, Level, Notice


class LineBy(StrEnum):
    """The ways to the line time."""

    BANDS = "bands"
    SENSOR = "sensor"
    FALL = "fall"


@dataclass(frozen=True, slots=True, kw_only=True)
class LineTime:
    """What one way says.

    Attributes
    ----------
    by, source : which way, and the file, or the document, that it comes from.
    seconds : from line to line, >= 0; None where it was refused.
    budget : of `seconds`.
    readout : where the lines run in the picture; None where this way cannot tell.
    what : what was measured, in words.
    notices : what there is to say of it.
    """

    by: LineBy
    source: str
    seconds: float | None
    budget: Budget
    what: str
    readout: Falls | None = None
    notices: tuple[Notice, ...] = ()


def settled(ways: Sequence[LineTime]) -> tuple[LineTime | None, tuple[Notice, ...]]:
    """Return the surest of ways that agree; what the fall shows is a check only."""
    known = [(one, one.seconds) for one in ways if one.seconds is not None]
    apart = tuple(
        _disagreement(one, a, two, b)
        for (one, a), (two, b) in combinations(known, 2)
        if abs(a - b) > math.hypot(one.budget.expanded, two.budget.expanded)
    )
    best = [one for one, _ in known if one.by is not LineBy.FALL]
    if apart or not best:
        return None, apart
    return min(best, key=lambda one: one.budget.u), ()


def _disagreement(one: LineTime, a: float, two: LineTime, b: float) -> Notice:
    text = (
        f"{one.by} says {1e6 * a:.4g} ± {1e6 * one.budget.expanded:.2g} us a line and {two.by} "
        f"{1e6 * b:.4g} ± {1e6 * two.budget.expanded:.2g}"
    )
    return Notice(level=Level.DOUBT, code=Code.LINE_TIMES_DISAGREE, text=text)
