"""Pieces of one part, or parts that travel as a pair?

A glint can cut one part into two regions; two parts can leave so close that they look like
that. Both move as one body. Only the part's length decides: known, or learned from the single
parts of the same pour. Where neither helps, the pair is a reason for doubt.
"""

from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from viscount.motion.sight import Sight
from viscount.motion.track import Track

CLOSE = 0.5
"""Two regions are close when the gap between them is below this share of the shorter one."""
RIGID_PX = 1.5
"""A gap that changes by less than this while both are in view does not change."""
APART = 0.6
"""The two of a pair follow each other in less than this share of the time to the next part."""
LENGTH_TOLERANCE = 0.15
"""A pair no longer than a part by this share is one part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two tracks that move as one body; `length` from the tail of one to the head of the other."""

    upper: Track
    lower: Track
    length: float


def rigid_pairs(tracks: list[Track]) -> list[Pair]:
    """Return the pairs of close neighbours along the fall that keep their distance throughout."""
    moving = sorted((t for t in tracks if len(t.whole) >= 2), key=lambda track: track.when)
    whens = [track.when for track in moving]
    steps = [later - earlier for earlier, later in pairwise(whens)]
    found = []
    for place, (earlier, later) in enumerate(pairwise(moving)):
        around = steps[max(place - 1, 0) : place] + steps[place + 1 : place + 2]
        # In an even stream each part is as close to the next: that says nothing of pieces.
        if around and steps[place] > APART * min(around):
            continue
        pair = _rigid(upper=later, lower=earlier)
        if pair is not None:
            found.append(pair)
    return found


def joined(tracks: list[Track], pairs: list[Pair], part_length: float) -> list[Track]:
    """Return the tracks without those that are a piece of another's part.

    The lower piece stands for the part, unless the upper one does already: it is not among the
    tracks.
    """
    new = {id(track) for track in tracks}
    pieces = {
        id(pair.upper if id(pair.upper) in new else pair.lower)
        for pair in pairs
        if pair.length <= (1.0 + LENGTH_TOLERANCE) * part_length
        and max(pair.upper.length, pair.lower.length) < (1.0 - LENGTH_TOLERANCE) * part_length
    }
    return [track for track in tracks if id(track) not in pieces]


def single_length(tracks: list[Track], pairs: list[Pair]) -> float | None:
    """Return the length of the parts that travel alone; None where too few do."""
    paired = {id(one) for pair in pairs for one in (pair.upper, pair.lower)}
    alone = [t.length for t in tracks if id(t) not in paired and len(t.whole) >= 2]
    return median(alone) if len(alone) >= 3 else None


def _rigid(*, upper: Track, lower: Track) -> Pair | None:
    below = {sight.frame: sight for sight in lower.whole}
    common = [(above, below[above.frame]) for above in upper.whole if above.frame in below]
    if len(common) < 2:
        return None
    shorter = min(upper.length, lower.length)
    if any(abs(above.x - under.x) > 0.5 * shorter for above, under in common):
        return None
    gaps = [_gap(above, under) for above, under in common]
    gap = median(gaps)
    # Each edge lies on whole pixels, so that a gap is known to one or two of them.
    if not 0.0 < gap < CLOSE * shorter or max(gaps) - min(gaps) > RIGID_PX + 1.0:
        return None
    return Pair(upper=upper, lower=lower, length=upper.length + gap + lower.length)


def _gap(above: Sight, under: Sight) -> float:
    return (under.y - 0.5 * under.length) - (above.y + 0.5 * above.length)
