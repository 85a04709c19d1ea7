"""The spacing of several pours and runs together: distributions, and the smallest gap of all."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.measure.pour_spacing import At, AtHeight, PourSpacing
from viscount.measure.spacing import spread
from viscount.tally import Spread

Floats = NDArray[np.float64]
There = Sequence[tuple[PourSpacing, AtHeight]]
"""Pours, each at the same height of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Distributions:
    """How intervals, spacing, gaps and speeds are spread at one height.

    Attributes
    ----------
    at : of the first pour. pours : how many. unit : of length; None where they differ.
    pairs : how many pairs of neighbours. left_out : pairs beside a passage of several parts.
    interval_ms, spacing, gap_ms, speed : each None where nothing is known; lengths in `unit`.
    """

    at: At
    pours: int
    unit: str | None
    pairs: int
    left_out: int
    interval_ms: Spread | None
    spacing: Spread | None
    gap_ms: Spread | None
    speed: Spread | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallestGap:
    """The smallest gap that was seen at one height, and between which parts.

    Attributes
    ----------
    run, pour : number of the tally, from 0, and of its pour, from 1.
    part : number in the pour of the first of the two. t_s : when that one's centre is there.
    doubt : chance that one of the two is not exactly one part.
    """

    at: At
    run: int
    pour: int
    part: int
    t_s: float
    gap_s: float
    sigma_gap_s: float
    doubt: float


def distributions(pours: There) -> Distributions:
    """Return the spread of all neighbours of these pours at one height, which has one pour or more.

    Spacing and speed are left out where the pours' units differ.
    """
    own = [one for _, one in pours]
    alike = len({one.neighbours.unit for one in own}) == 1

    def spread_of(name: str, factor: float = 1.0) -> Spread | None:
        values = [factor * getattr(one.neighbours, name)[one.usable] for one in own]
        return spread(np.concatenate(values))

    return Distributions(
        at=own[0].at,
        pours=len(own),
        unit=own[0].neighbours.unit if alike else None,
        pairs=int(sum(np.count_nonzero(one.usable) for one in own)),
        left_out=int(sum(np.count_nonzero(~one.usable) for one in own)),
        interval_ms=spread_of("interval_s", 1e3),
        spacing=spread_of("spacing") if alike else None,
        gap_ms=spread_of("gap_s", 1e3),
        speed=spread(np.concatenate([one.neighbours.speed for one in own])) if alike else None,
    )


def smallest_gap(pours: There) -> SmallestGap | None:
    """Return the smallest gap between two passages of one part each; None where none is known."""
    best: SmallestGap | None = None
    for pour, own in pours:
        gap = np.where(own.usable, own.neighbours.gap_s, np.nan)
        if not np.isfinite(gap).any():
            continue
        k = int(np.nanargmin(gap))
        if best is not None and gap[k] >= best.gap_s:
            continue
        doubt = pour.pour.poured.doubt
        best = SmallestGap(
            at=own.at,
            run=pour.run,
            pour=pour.pour.number,
            part=int(pour.pour.last_part[k]),
            t_s=float(own.neighbours.t_s[k]),
            gap_s=float(gap[k]),
            sigma_gap_s=float(own.neighbours.sigma_gap_s[k]),
            doubt=float(1.0 - (1.0 - doubt[k]) * (1.0 - doubt[k + 1])),
        )
    return best
