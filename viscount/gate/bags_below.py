"""What is in each bag where the line is below the blade: what crossed it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.gate.commands import Commands, Cycle
from viscount.gate.sums import sum_of
from viscount.tally import Bag, Reason
from viscount.values import Status

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_CLEAR: Final = 4.0
"""So many standard uncertainties from where two bags part, a part surely belongs to one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossed:
    """The n entries that crossed a line below the blade, in order of time.

    Attributes
    ----------
    earliest_s, latest_s : (n,) between these it was at the blade: what was held there fell from
        rest, the longest that the way can take.
    parts : (n,) negative where they went back up.
    doubt : (n,) chance that `parts` is wrong.
    """

    earliest_s: Floats
    latest_s: Floats
    parts: Ints
    doubt: Floats


def bags_below(
    crossed: Crossed,
    commands: Commands,
    *,
    shut_takes_s: float,
    end_s: float,
    doubts: Sequence[Reason] = (),
) -> tuple[Bag, ...]:
    """Return every bag: the parts that were at the blade while it was open.

    Parameters
    ----------
    shut_takes_s : after the command the stream is closed within this; 0 where it is not known.
    end_s : the last frame's time.
    doubts : whatever makes all bags doubtful.
    """
    cycles = commands.cycles
    ends = _ends(cycles, shut_takes_s)
    unsure = _CLEAR * commands.sigma_s
    first = np.searchsorted(ends, crossed.earliest_s - unsure)
    last = np.searchsorted(ends, crossed.latest_s + unsure)
    middle = np.searchsorted(ends, (crossed.earliest_s + crossed.latest_s) / 2)
    found = []
    for k, cycle in enumerate(cycles):
        said = list(doubts)
        if cycle.shut_s is None or end_s < cycle.shut_s + shut_takes_s:
            said.append(Reason(code=Code.BAG_NOT_SHUT, text=Code.BAG_NOT_SHUT.meaning))
        may = (first <= k) & (last >= k)
        split = may & (first < last)
        if split.any():
            many = int(np.abs(crossed.parts[split]).sum())
            text = f"{many} fell by so near to two bags that nobody can say into which"
            said.append(Reason(code=Code.BAG_PARTS_UNSURE, text=text))
        found.append(_bag(k + 1, crossed, middle == k, split, said))
    return tuple(found)


def _ends(cycles: Sequence[Cycle], shut_takes_s: float) -> Floats:
    """Return when each bag but the last one ends: midway between its shutting and the opening."""
    ends = []
    for one, following in pairwise(cycles):
        assert one.shut_s is not None
        assert following.opened_s is not None
        closed = min(one.shut_s + shut_takes_s, following.opened_s)
        ends.append((closed + following.opened_s) / 2)
    return np.array(ends)


def _bag(
    number: int,
    crossed: Crossed,
    own: NDArray[np.bool_],
    split: NDArray[np.bool_],
    said: list[Reason],
) -> Bag:
    content = int(crossed.parts[own].sum())
    sure, among = own & ~split & (crossed.parts > 0), split & (crossed.parts > 0)
    mass = np.where(among, 0.5, 1.0)[None, sure | among]
    told = sum_of(mass, crossed.parts[sure | among], crossed.doubt[sure | among])
    back = content - int(crossed.parts[sure].sum()) - int(crossed.parts[own & among].sum())
    low, high = told.about(content - back)
    return Bag(
        number=number,
        content=content,
        low=low + back,
        high=high + back,
        chance=told.of(content - back),
        held_before=None,
        held_after=None,
        pinched=None,
        status=Status.DOUBTFUL if said else Status.CLEAN,
        reasons=tuple(said),
    )
