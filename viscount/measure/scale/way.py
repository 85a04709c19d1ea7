"""One way to the scale and what it found; and ways put together."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from viscount.codes import Code
from viscount.measure.scale.budget import Budget, Input
from viscount.values import Level, Notice

DISAGREE = 2.0
"""Two ways disagree where they are further apart than so many times the combined standard
uncertainty of their difference, with what few degrees of freedom add to that."""


class By(StrEnum):
    """The ways to the scale."""

    GRAVITY = "gravity"
    PART = "part"
    RULER = "ruler"
    CHECKERBOARD = "checkerboard"


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """What one way says.

    Attributes
    ----------
    by : which.
    source : the file that it was read from.
    value : px per mm along the fall in the middle of the view, > 0; None where it was refused.
    budget : of `value`, in px per mm.
    change : by how much the scale grows over the view, downstream, as a share; None where this
        way cannot tell.
    change_u : standard uncertainty of that.
    what : what was measured, in words.
    notices : what there is to say of it.
    """

    by: By
    source: str
    value: float | None
    budget: Budget
    what: str
    change: float | None = None
    change_u: float | None = None
    notices: tuple[Notice, ...] = ()

    @property
    def interval(self) -> tuple[float, float] | None:
        """The 95 % interval; None where it was refused."""
        if self.value is None:
            return None
        return self.value - self.budget.expanded, self.value + self.budget.expanded


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """The scale by all ways that gave one, where they agree.

    Attributes
    ----------
    value, budget : their weighted mean; the budget's inputs are the ways.
    """

    value: float
    budget: Budget


def together(ways: Sequence[Way]) -> tuple[Together | None, tuple[Notice, ...]]:
    """Combine ways by the mean weighted with 1/u²; say where they disagree, and then do not.

    Their errors are taken as independent: what two ways share (the place on earth, the camera's
    tilt) enters each of them differently.
    """
    known = [(one, one.value) for one in ways if one.value is not None]
    if not known:
        return None, ()
    apart = tuple(
        _disagreement(one, a, two, b)
        for (one, a), (two, b) in combinations(known, 2)
        if not _agree(one, a, two, b)
    )
    if apart:
        return None, apart
    weights = [1.0 / max(one.budget.u, 1e-9 * value) ** 2 for one, value in known]
    total = math.fsum(weights)
    mean = math.fsum(w * value for w, (_, value) in zip(weights, known, strict=True)) / total
    inputs = tuple(
        Input(name=one.by.value, u=w / total * one.budget.u, freedom=one.budget.freedom)
        for w, (one, _) in zip(weights, known, strict=True)
    )
    return Together(value=mean, budget=Budget(inputs=inputs)), ()


def _agree(one: Way, a: float, two: Way, b: float) -> bool:
    allowed = math.hypot(one.budget.expanded, two.budget.expanded)
    return abs(a - b) <= max(allowed, DISAGREE * math.hypot(one.budget.u, two.budget.u))


def _disagreement(one: Way, a: float, two: Way, b: float) -> Notice:
    text = (
        f"{one.by} says {a:.4g} ± {one.budget.expanded:.2g} px/mm and {two.by} {b:.4g} ± "
        f"{two.budget.expanded:.2g}: {100 * abs(a - b) / min(a, b):.1f} % apart"
    )
    return Notice(level=Level.DOUBT, code=Code.SCALES_DISAGREE, text=text)
