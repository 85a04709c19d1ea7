"""The result: how many, how sure, why.

Each passage's doubt is the chance that its parts are miscounted. Together they give the range
in which the count lies, and the chance that all of it is right. What is wrong with the paths of
all parts together is in no single passage: it widens the range by what such pours came to.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from viscount.agreement.chances import CONFIDENCE, Chances, all_right, range_about
from viscount.codes import Code
from viscount.tally import Reason
from viscount.values import Direction, Level, Notice, Passage, Status

__all__ = ["CONFIDENCE", "WORTH_A_LOOK", "Result", "places", "pours_of", "result"]

SHOWN_PLACES = 5
"""So many doubtful places are named in the text of a reason."""
LEFT_OPEN = {
    Code.TOO_FEW_SIGHTINGS: (0.25, 0.6),
    Code.PATHS_UNLIKELY: (0.4, 1.5),
    Code.PARTS_MERGED: (0.1, 1.0),
    Code.SPEED_AMBIGUOUS: (0.2, 0.9),
    Code.SIGHTINGS_LEFT_OVER: (0.8, 3.0),
    Code.PARTS_BESIDE_VIEW: (0.0, 0.5),
}
"""What a doubt of all paths together leaves open, as shares of the count: fewer, and more. Found
with the 522 doubtful counts of about 2,250 simulated pours drawn at random: 499 were within. How
many pass beside the view nobody can know: half as many again is a guess."""
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
    low, high = range_about(count, [_own(p) for p in passages])
    for notice in notices:
        if notice.level is Level.DOUBT:
            fewer, more = LEFT_OPEN.get(notice.code, (0.0, 0.0))
            low = min(low, math.floor(count * (1.0 - fewer)))
            high = max(high, math.ceil(count * (1.0 + more)))
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


def places(moments_ns: Sequence[tuple[int, float]], origin_ns: int) -> str:
    """Return in words where to look: the worst few of (time, doubt), in order of time."""
    worst = sorted((m for m in moments_ns if m[1] > WORTH_A_LOOK), key=lambda m: -m[1])
    if not worst:
        return ""
    shown = sorted(t_ns for t_ns, _ in worst[:SHOWN_PLACES])
    where = ", ".join(f"{(t_ns - origin_ns) * 1e-9:.3f} s" for t_ns in shown)
    look = f"look at {len(worst)} place{'s' if len(worst) != 1 else ''}"
    return f"{look}: {where}" if len(worst) <= SHOWN_PLACES else f"{look}, first {where}"


def _unsure(passages: Sequence[Passage], origin_ns: int) -> Reason | None:
    """Return the reason that single passages give for doubt, with the places to look at."""
    right = all_right(_own(p) for p in passages)
    if right >= CONFIDENCE:
        return None
    where = places([(p.t_ns, p.doubt) for p in passages], origin_ns)
    chance = f"all passages right with a chance of {100 * right:.0f} %"
    text = f"{chance}; {where}" if where else chance
    return Reason(code=Code.PASSAGES_UNSURE, text=text)


def _own(passage: Passage) -> Chances:
    """Return the chances of one passage: one more or one less alike, but never less than none."""
    doubt = passage.doubt
    less, more = (0.0, doubt) if passage.parts == 0 else (0.5 * doubt, 0.5 * doubt)
    chances = Chances(less, 1.0 - doubt, more)
    return chances if passage.direction is Direction.WITH else chances.reversed
