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
    seconds : from line to line, >= 0 but for the fall's: that is along the fall, and negative where
        lines run against it. None where it was refused.
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


def settled(
    ways: Sequence[LineTime], falls: Falls, readout: Falls | None
) -> tuple[LineTime | None, tuple[Notice, ...]]:
    """Return the surest of ways that agree; what the fall shows is a check only.

    `readout` is where the lines run as far as it was stated; bands tell it themselves.
    """
    known = [(o, o.seconds) for o in ways if o.seconds is not None and o.by is not LineBy.FALL]
    checks = [(o, o.seconds) for o in ways if o.seconds is not None and o.by is LineBy.FALL]
    apart = [
        _disagreement(one, a, two, b)
        for (one, a), (two, b) in combinations(known, 2)
        if _apart(one, a, two, b)
    ]
    for one, a in known:
        runs = one.readout or readout
        if runs is not None:
            along = a * runs.sign * falls.sign if runs.vertical == falls.vertical else 0.0
            apart += [
                _disagreement(one, along, two, b) for two, b in checks if _apart(one, along, two, b)
            ]
    if apart or not known:
        return None, tuple(apart)
    return min((one for one, _ in known), key=lambda one: one.budget.u), ()


def _apart(one: LineTime, a: float, two: LineTime, b: float) -> bool:
    return abs(a - b) > math.hypot(one.budget.expanded, two.budget.expanded)


def _disagreement(one: LineTime, a: float, two: LineTime, b: float) -> Notice:
    text = (
        f"{one.by} says {1e6 * a:.4g} ± {1e6 * one.budget.expanded:.2g} us a line and {two.by} "
        f"{1e6 * b:.4g} ± {1e6 * two.budget.expanded:.2g}"
    )
    return Notice(level=Level.DOUBT, code=Code.LINE_TIMES_DISAGREE, text=text)
