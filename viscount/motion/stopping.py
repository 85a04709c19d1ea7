"""Parts that stop on their way: on the blade, on a part that lies there, or because they stick.

What stops by itself shows short of where it was to be, and stays there. What comes to lie on
something else is one region with it from then on; where that region stands, its upstream end is
the part's own.
"""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from viscount.motion.detections import Detections
from viscount.motion.prediction import Prediction
from viscount.motion.sharing import FOLLOWED
from viscount.motion.surprise import PART_SHARE
from viscount.motion.track import STILL_PX, Met, Track

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

STOP = 16.0
"""Cost of a part's stopping in a new place: less than to lose it in plain view where another
appears in plain view, more than to lose it where another may come in."""
STAY, STAYS_ON = 9.0, 1.0
"""Cost of its being seen where it was seen last, and of its being seen there once more."""
SAME_AREA = 0.2
"""As a logarithm, to which a part that stops keeps its area; a blow turns it a little."""
ASIDE = 0.5
"""By no more than this share of its length it is thrown aside."""
LEAST_STEP_PX = 6.0
"""What was to move by no more than this is followed to a stop as it is anyway."""
SHORT_SIGMAS = 3.0
STANDS = 3
"""So often a region is seen unchanged that stands."""


def stop_costs(
    tracks: list[Track],
    ahead: Prediction,
    now: Detections,
    last: Detections | None,
    part_px: float,
    unmatched: Flags,
    closed: Flags,
) -> Floats:
    """Return (n, m) what it costs that a track's part has stopped where the blob is.

    Infinite where it cannot have. That must be short of where it was to be by now, and where
    nothing else was in the `last` frame; and what is far below a part's area, `part_px`, may do
    as it likes. Nor where the track goes on to the blob: only the pairs `unmatched` (n, m) count.
    Where others may come in, it is not `closed` (m,), a new place is no sign of stopping.
    """
    never = np.full(unmatched.shape, np.inf)
    if last is None:
        return never
    heading = np.sign(ahead.speed)[:, None]
    went = heading * (now.y - ahead.seen_y[:, None])
    short = heading * (ahead.y - now.y)
    between = (went >= -STILL_PX) & (short > 2.0 * STILL_PX)
    beside = np.abs(now.x - ahead.x) <= ASIDE * ahead.length[:, None]
    able = unmatched & between & beside & (np.abs(ahead.grown) <= SAME_AREA)
    if not able.any():
        return never
    stayed = np.array([track.stayed for track in tracks])[:, None]
    followed = np.array([len(t.sights) >= FOLLOWED and t.missed <= t.stayed for t in tracks])
    goes_on = heading * (ahead.y - ahead.seen_y[:, None]) > LEAST_STEP_PX
    able &= followed[:, None] & goes_on & ~now.cut & (now.area >= PART_SHARE * part_px)
    stays = went <= STILL_PX
    goes = closed & ~(stays | stayed | _stood(now, last))
    stay = np.where(stayed, STAYS_ON, STAY)
    return np.where(able & stays, stay, np.where(able & goes, STOP, np.inf))


def _stood(now: Detections, last: Detections) -> Flags:
    """Return (m,) whether something was at the place of each blob in the last frame."""
    far_y = np.abs(now.y[:, None] - last.y)
    far_x = np.abs(now.x[:, None] - last.x)
    return np.asarray(((far_y <= STILL_PX) & (far_x <= STILL_PX)).any(axis=1))


def became_another(tracks: list[Track], ahead: Prediction, now: Detections) -> Flags:
    """Return (n, m) whether what has stopped would change its place and its size at once.

    Something else has come to lie on it, and they are one region.
    """
    another = np.zeros(ahead.covering.shape, dtype=bool)
    halted = [i for i, track in enumerate(tracks) if track.halted_s is not None and track.rests]
    if halted:
        moved = np.abs(now.y - ahead.seen_y[halted, None]) > STILL_PX
        another[halted] = (ahead.grown[halted] > SAME_AREA) & moved
    return another


def met(index: int, track: Track, ahead: Prediction, now: Detections, part_px: float) -> Met | None:
    """Return the region that a lost part may have come to lie in, or None.

    It covers where the part was to be, and begins short of where that would begin.
    """
    small = track.area < PART_SHARE * part_px
    if small or len(track.sights) < FOLLOWED or ahead.speed[index] <= 0.0:
        return None
    lies = now.tail + track.behind
    least = track.sights[-1].y - STILL_PX
    most = ahead.place[index] - max(2.0 * STILL_PX, SHORT_SIGMAS * ahead.sigma[index])
    holds = now.area >= math.exp(-SAME_AREA) * track.area
    able = np.flatnonzero(
        ahead.covering[index] & holds & (least <= lies) & (lies <= most) & ~now.cut
    )
    return None if not able.size else _met(int(able[0]), now, 1)


def met_again(before: Met, moving: Flags, now: Detections) -> Met | None:
    """Return the region if it is seen again unchanged and no `moving` (m,) part is in it."""
    ends = np.stack([now.tail - before.tail, now.head - before.head])
    sides = np.stack([now.low - before.low, now.high - before.high])
    same = (np.abs(ends) <= STILL_PX).all(axis=0) & (np.abs(sides) <= 2.0 * STILL_PX).all(axis=0)
    found = np.flatnonzero(same & ~moving)
    if not found.size:
        return None
    # Beside the first time, not the last: what creeps along does not stand.
    return replace(before, blob=int(found[0]), times=before.times + 1)


def _met(blob: int, now: Detections, times: int) -> Met:
    return Met(
        blob=blob,
        tail=float(now.tail[blob]),
        head=float(now.head[blob]),
        low=float(now.low[blob]),
        high=float(now.high[blob]),
        times=times,
    )
