"""The result: how many, how sure, why.

Each passage's doubt is the chance that its parts are miscounted. Together they give the range
in which the count lies, and the chance that all of it is right.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.tally import Reason
from viscount.values import Direction, Level, Notice, Passage, Status

Floats = NDArray[np.float64]

CONFIDENCE = 0.95
SHOWN_PLACES = 5
"""So many doubtful places are named in the text of a reason."""
WORTH_A_LOOK = 0.005
"""Passages with a doubt above this are places to look at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """A count with its range. `count` is what was counted, whatever the status."""

    count: int
    low: int
    high: int
    status: Status
    reasons: tuple[Reason, ...]


def result(passages: Sequence[Passage], notices: Sequence[Notice], origin_ns: int) -> Result:
    """Return the result of these passages under these notices.

    Parts that went back up are taken off: they are above the line again.
    """
    count = sum(_signed(p) for p in passages)
    low, high = _range(passages)
    reasons = [Reason(code=n.code, text=n.text) for n in notices if n.level is not Level.INFO]
    unsure = _unsure(passages, origin_ns)
    if unsure is not None:
        reasons.append(unsure)
    invalid = any(n.level is Level.INVALID for n in notices)
    status = Status.INVALID if invalid else Status.DOUBTFUL if reasons else Status.CLEAN
    return Result(count=count, low=low, high=high, status=status, reasons=tuple(reasons))


def pours_of(passages: Sequence[Passage], quiet_ns: int) -> list[list[Passage]]:
    """Split passages, in order of time, where `quiet_ns` go by without one."""
    pours: list[list[Passage]] = []
    for passage in passages:
        if not pours or passage.t_ns - pours[-1][-1].t_ns >= quiet_ns:
            pours.append([])
        pours[-1].append(passage)
    return pours


def _signed(passage: Passage) -> int:
    return passage.parts if passage.direction is Direction.WITH else -passage.parts


def _unsure(passages: Sequence[Passage], origin_ns: int) -> Reason | None:
    """Return the reason that single passages give for doubt, with the places to look at."""
    all_right = float(np.prod([1.0 - p.doubt for p in passages])) if passages else 1.0
    if all_right >= CONFIDENCE:
        return None
    worst = sorted((p for p in passages if p.doubt > WORTH_A_LOOK), key=lambda p: -p.doubt)
    shown = sorted(worst[:SHOWN_PLACES], key=lambda p: p.t_ns)
    where = ", ".join(f"{(p.t_ns - origin_ns) * 1e-9:.3f} s" for p in shown)
    places = f"look at {len(worst)} place{'s' if len(worst) != 1 else ''}"
    text = f"{places}: {where}" if len(worst) <= SHOWN_PLACES else f"{places}, first {where}"
    chance = f"all passages right with a chance of {100 * all_right:.0f} %"
    return Reason(code=Code.PASSAGES_UNSURE, text=f"{chance}; {text}" if worst else chance)


def _range(passages: Sequence[Passage]) -> tuple[int, int]:
    """Return the shortest range about the count that holds it with `CONFIDENCE`.

    The distribution of the sum is the convolution of the passages' own: right with chance
    1 - doubt, else one more or one less, alike. Nothing can be less than no part.
    """
    spread = np.array([1.0])
    for passage in passages:
        spread = np.convolve(spread, _own(passage))
    # Each passage widens the distribution by one on either side.
    values = np.arange(spread.size) - len(passages) + sum(_signed(p) for p in passages)
    cumulative = np.cumsum(spread)
    tail = 0.5 * (1.0 - CONFIDENCE)
    low = int(values[np.searchsorted(cumulative, tail)])
    last = min(int(np.searchsorted(cumulative, 1.0 - tail)), values.size - 1)
    high = int(values[last])
    count = sum(_signed(p) for p in passages)
    return min(low, count), max(high, count)


def _own(passage: Passage) -> Floats:
    """Return the chances that one passage adds one less, as counted, or one more."""
    doubt = passage.doubt
    less, more = (0.0, doubt) if passage.parts == 0 else (0.5 * doubt, 0.5 * doubt)
    chances = np.array([less, 1.0 - doubt, more])
    return chances if passage.direction is Direction.WITH else chances[::-1]
