"""The marks of a strip: one for each passage, with the number that a recount has reached."""

from dataclasses import dataclass
from enum import Enum

from viscount.agreement.result import WORTH_A_LOOK
from viscount.tally import Tally
from viscount.values import Direction, Passage


class Kind(Enum):
    """What a mark says; each has a shape of its own. `value` is its line in the legend."""

    COUNTED = "counted"
    DOUBTFUL = "counted, look here"
    NO_PART = "seen, counted as no part"
    AGAINST = "back up, taken off"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One passage on a strip.

    Attributes
    ----------
    t_s : when it crossed the line.
    label : how many parts are through with it: "7", or "7-8" for two at once.
    across_px : image coordinate across the fall.
    """

    t_s: float
    label: str
    kind: Kind
    across_px: float = 0.0


def marks_of(tally: Tally) -> list[Mark]:
    """Return the marks of a tally's passages, in order of time."""
    marks = []
    reached = 0
    for passage in sorted((p.passage for p in tally.passages), key=lambda p: p.t_ns):
        kind = _kind(passage)
        if kind is Kind.AGAINST:
            reached -= passage.parts
            label = str(-passage.parts)
        else:
            label = _numbers(reached, passage.parts)
            reached += passage.parts
        t_s, across_px = passage.t_ns * 1e-9, passage.across_px
        marks.append(Mark(t_s=t_s, label=label, kind=kind, across_px=across_px))
    return marks


def _kind(passage: Passage) -> Kind:
    if passage.parts == 0:
        return Kind.NO_PART
    if passage.direction is Direction.AGAINST:
        return Kind.AGAINST
    return Kind.DOUBTFUL if passage.doubt > WORTH_A_LOOK else Kind.COUNTED


def _numbers(reached: int, parts: int) -> str:
    if parts == 0:
        return "?"
    return str(reached + 1) if parts == 1 else f"{reached + 1}-{reached + parts}"
