"""Parts that are seen too seldom to be followed for sure: once, or twice in a dense stream."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.motion.parts import Usual, is_speck
from viscount.motion.speed import MotionPrior
from viscount.motion.track import Track
from viscount.values import Level, Notice

Floats = NDArray[np.float64]

MANY_LONE = 3
"""So many parts seen once only, and more than were followed, make a count invalid."""
FOLLOWED = 3.0
"""A part that is in view for so many frames is not seen once only by being fast."""
TWICE_SHARE = 0.2
"""Share of parts that may be seen twice only in a dense stream."""
NEAREST_SHARE = 0.5
"""Parts that move by more than this share of their spacing come nearer to where another is."""
TOLD_SHARE = 0.25
"""A stated speed tells them apart where parts differ in it by no more than moves them, in a frame,
by this share of their spacing."""


def seen_once(ended: list[Track], parts: list[Track], look: Usual) -> Iterator[Notice]:
    """Refuse a count of parts that were seen once only, and so were not followed."""
    if look.model.learned and look.sightings > FOLLOWED:
        return
    lone = sum(len(t.sights) == 1 and not is_speck(t, look) for t in ended)
    if lone >= MANY_LONE and lone > sum(len(t.sights) > 1 for t in parts):
        text = f"{lone} parts were seen once only, too rarely to be followed"
        yield Notice(level=Level.INVALID, code=Code.TOO_FEW_SIGHTINGS, text=text)


def seen_twice(parts: list[Track], look: Usual, prior: MotionPrior) -> Iterator[Notice]:
    """Doubt links of two sightings in a stream so dense that neighbours would do as well.

    Where a speed is stated, and parts differ little in it, it says which two belong together.
    """
    twice = sum(len(track.sights) == 2 for track in parts)
    if twice < MANY_LONE or twice < TWICE_SHARE * len(parts):
        return
    gaps_s = np.diff(np.sort([track.when for track in parts]))
    near = look.model.interval_s > NEAREST_SHARE * float(np.median(gaps_s))
    if near and not (prior.speed_px_s is not None and _alike(gaps_s, look)):
        text = f"{twice} of {len(parts)} parts were seen twice only, and move as far as to the next"
        yield Notice(level=Level.DOUBT, code=Code.TOO_FEW_SIGHTINGS, text=text)


def _alike(gaps_s: Floats, look: Usual) -> bool:
    """Whether parts differ so little in speed that it says which two sightings belong together.

    `gaps_s` (n,) are the times from part to part. Of two side by side, nearer to one another than
    half a part's length, it does not matter which is which.
    """
    model = look.model
    behind_s = gaps_s[gaps_s * model.usual_speed > 0.5 * (model.ahead_px + model.behind_px)]
    strays_s = model.spread * model.interval_s
    return not behind_s.size or strays_s <= TOLD_SHARE * float(np.median(behind_s))
