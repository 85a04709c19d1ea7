"""What may have passed without being counted: tracks like a part that none is counted for."""

import math
from collections import Counter
from collections.abc import Iterable

import numpy as np

from viscount.motion.crossing import MOST_MISFIT, Crossed
from viscount.motion.judging import LOST, SHORT, TWIN_SHARE, none
from viscount.motion.parts import CLUMP, Usual, is_like_a_part
from viscount.motion.resting import stands
from viscount.motion.sight import Sight
from viscount.motion.track import STILL_PX, Track
from viscount.values import Basis, Passage

CREEPS = 0.4
"""What moves by less than this share of a part's step in a frame did not come with them."""


def possible(
    uncounted: list[Crossed],
    counted: list[Crossed],
    active: Iterable[Track],
    look: Usual,
    origin_ns: int,
) -> list[Passage]:
    """Return passages of no parts for tracks like a part that were not counted.

    Or like the edge of one that passes beside the view. They cross the line, or come out beside
    another part below it, where none can enter. Or they show what nobody else does: each region
    as large as a part belongs to one. `active` tracks may be counted later.
    """
    alone = _with_regions_of_their_own(uncounted, counted, list(active), look)
    found = []
    for one in uncounted:
        own = id(one.track) in alone
        if not (own or _comes_through(one, look)):
            continue
        passage = none(one.track, look, LOST, origin_ns)
        if own or not any(_taken(passage, one.track, other, origin_ns) for other in counted):
            found.append(passage)
    return found


def _comes_through(one: Crossed, look: Usual) -> bool:
    """Whether a track is like a part that was at the line, or came out below it."""
    track = one.track
    below = track.born in ("beside", "midway") and track.sights[0].y > 0
    if len(track.sights) < 2 or not (one.crossings or below):
        return False
    like = is_like_a_part(track, look) or _passes_beside(one)
    return like and _goes_along(track, look)


def _with_regions_of_their_own(
    uncounted: list[Crossed], counted: list[Crossed], active: list[Track], look: Usual
) -> set[int]:
    """Return which tracks, by their `id`, show a region as large as a part that no other does.

    They crossed the line, came from nowhere or went there; with the fall, or seen once and alone.
    But for what stands where something was a frame before or after, as it lies there or flickers;
    for what creeps, as it did lie there and begins to fall; and where as many others are missing
    in that frame.
    """
    known, unknown = [one.track for one in counted], [one.track for one in uncounted]
    least = math.inf if look.area is None else look.area / CLUMP
    own = [
        (track, sight)
        for one, track in zip(uncounted, unknown, strict=True)
        if _from_nowhere(one) and (most := _most(one, look))
        for sight in track.sights
        if sight.whole and least < sight.area < most
    ]
    if own:  # In most frames of a live run there is none, and no time either.
        claimed = {(sight.frame, sight.blob) for sight in _sights(known + active)}
        own = [(track, s) for track, s in own if (s.frame, s.blob) not in claimed]
        times = Counter(sight.frame for _, sight in own)
        more = {f for f, number in times.items() if number > _missing(known + active, f)}
        own = [(track, s) for track, s in own if s.frame in more]
    if not own:
        return set()
    shown, step = [sight for _, sight in own], look.model.usual_speed * look.model.interval_s
    lie = stands(shown, _sights(known + unknown + active))
    lie |= stands(shown, _sights(unknown + active), max(CREEPS * step, STILL_PX))
    return {id(track) for (track, _), lies in zip(own, lie, strict=True) if not lies}


def _most(one: Crossed, look: Usual) -> float:
    """Return up to which area, px, a track's regions are one part, or several that it may be.

    Several where it was seen to cross the line: above it, they may come apart and be counted.
    """
    if look.area is None or not (_goes_along(one.track, look) or _once_alone(one.track)):
        return 0.0
    through = any(crossing.basis is Basis.INTERPOLATED for crossing in one.crossings)
    return math.inf if through else CLUMP * look.area


def _missing(tracks: list[Track], frame: int) -> int:
    """Return how many tracks go on beyond a frame that does not show them.

    The picture is torn, or another track took their region.
    """
    through = (t for t in tracks if t.sights[0].frame < frame < t.sights[-1].frame)
    return sum(all(sight.frame != frame for sight in track.sights) for track in through)


def _sights(tracks: list[Track]) -> list[Sight]:
    return [sight for track in tracks for sight in track.sights]


def _from_nowhere(one: Crossed) -> bool:
    """Whether a track crossed the line, began in plain view, or ended there."""
    track = one.track
    nowhere = track.born in ("beside", "midway") or track.ended in ("hidden", "midway")
    return nowhere or bool(one.crossings)


def _once_alone(track: Track) -> bool:
    return len(track.sights) == 1 and track.sights[0].alone


def _passes_beside(one: Crossed) -> bool:
    """Whether a track may be what shows of a part that passes beside the view."""
    track, sights = one.track, one.track.sights
    aside = 2 * sum(sight.aside for sight in sights) >= len(sights) >= SHORT
    return aside and not track.traits.patchy and one.misfit <= MOST_MISFIT


def _goes_along(track: Track, look: Usual) -> bool:
    """Whether the track moves with the fall at about the speed of the others; it was seen twice."""
    last = track.sights[-1]
    usual = float(look.model.speed_at(np.array([last.t_s]), np.array([last.y]))[0])
    return len(track.sights) > 1 and abs(track.along.speed - usual) < 0.3 * usual


def _taken(passage: Passage, track: Track, other: Crossed, origin_ns: int) -> bool:
    """Whether a counted track was at the line at that time and place."""
    reach = TWIN_SHARE * max(track.length, other.track.length)
    t_s = (passage.t_ns - origin_ns) * 1e-9
    return any(
        abs(c.t_s - t_s) * abs(c.speed) < reach and abs(c.x - passage.across_px) < reach
        for c in other.crossings
    )
