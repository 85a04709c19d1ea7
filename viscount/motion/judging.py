"""What each passage stands for, and how sure that is.

A doubt is the chance that the number of parts of a passage is wrong. Something that may have
passed without being counted becomes a passage of no parts, with its doubt.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

import numpy as np

from viscount.motion.clumps import clump_size, is_clump, likely_size, shared_by_two
from viscount.motion.crossing import CLEARLY, Crossed, Crossing
from viscount.motion.parts import (
    CLUMP,
    FAST_SIGHTINGS,
    LEAST_WHOLE,
    SINGLE,
    Usual,
    is_echo,
    is_like_a_part,
)
from viscount.motion.sight import Sight
from viscount.motion.speed import SpeedModel
from viscount.motion.track import Track
from viscount.values import Basis, Direction, Passage

USUAL = 0.00002
"""Doubt of a passage that was seen whole and alone on both sides of the line."""
FEW_SIGHTS = 0.001
"""Added where there are two sightings only."""
BY_BORDER = 0.001
"""Added where the path came or went through the border without a sighting on that side."""
NOT_ALONE = 0.01
"""Added where another part was in the same blob next to the line."""
UNSURE = 0.3
"""Added where the part was never seen on one side although it ought to have been."""
CLUMP_SIZED = 0.005
"""Added where the size of a clump tells its number: parts may cover one another."""
UNLEARNED = 0.06
"""Added where the clip did not teach how fast parts move."""
SHORT, UNLIKE = 4, 4.0
"""Fewer sightings than this may be linked by chance, where one region is so many times another."""
MISFIT = 100.0
"""Of so short a path far beyond what one part's comes to (chi² per degree of freedom): strangers
were linked."""
LOST = 0.3
"""Doubt of a track that broke off or appeared in plain view on its way to or from the line."""
TWIN_SHARE = 0.5
"""Two crossings within this share of a part's length of each other may be the same part's."""


def without_twins(
    tracks: list[Crossed], look: Usual, counted: Sequence[Crossed] = ()
) -> list[Crossed]:
    """Return the tracks without those that follow the same part as a better one, or as one that
    was `counted` before.

    Two tracks may take turns at one part: they cross at the same time and place, and no frame
    ever shows them apart. (A border may: a part that comes in shows its corners first, but no
    large ones. Nor does a frame that tears a part: its pieces show no more than the whole.) Where
    one of them was in regions for two all along, the other is the second.
    """
    through = [
        one
        for one in tracks
        if one.crossings
        and not any(_twins(one, known, look) for known in counted if known.crossings)
    ]
    near = _neighbours(through)
    better: set[int] = set()
    for k in sorted(range(len(through)), key=lambda k: -len(through[k].track.sights)):
        if not any(_twins(through[k], through[other], look) for other in near[k] & better):
            better.add(k)
    return [one for one in tracks if not one.crossings] + [through[k] for k in sorted(better)]


def _neighbours(through: list[Crossed]) -> list[set[int]]:
    """Return for each track which others may cross near it, by the time that its length takes."""
    first = [one.crossings[0] for one in through]
    order = sorted(range(len(through)), key=lambda k: first[k].t_s)
    times = [first[k].t_s for k in order]
    near: list[set[int]] = [set() for _ in through]
    for k, (one, crossing) in enumerate(zip(through, first, strict=True)):
        reach_s = TWIN_SHARE * one.track.length / max(abs(crossing.speed), 1e-9)
        begin = bisect_left(times, crossing.t_s - reach_s)
        end = bisect_right(times, crossing.t_s + reach_s)
        for other in order[begin:end]:
            if other != k:
                near[k].add(other)
                near[other].add(k)
    return near


def _twins(one: Crossed, other: Crossed, look: Usual) -> bool:
    a, b = one.crossings[0], other.crossings[0]
    reach = TWIN_SHARE * max(one.track.length, other.track.length)
    near = abs(a.x - b.x) < reach and abs(a.t_s - b.t_s) * max(abs(a.speed), abs(b.speed)) < reach
    if not near or a.direction is not b.direction:
        return False
    if shared_by_two(one.track, look) or shared_by_two(other.track, look):
        return False
    most = _most_in_pieces(one.track, other.track, look)
    together = _seen_together(one.track, other.track)
    return not any(_two(own, its, most, look) for own, its in together)


def _two(own: Sight, its: Sight, most: float, look: Usual) -> bool:
    """Whether a frame shows two parts: more than `most`, px, or at a border no corners."""
    if own.whole and its.whole:
        return own.area + its.area > most
    return own.blob != its.blob and min(own.area, its.area) > _corner(look)


def _most_in_pieces(one: Track, other: Track, look: Usual) -> float:
    """Return what the pieces of one torn part show at most, px: what it shows in other frames.

    None of these may show a clump.
    """
    most = max(one.traits.largest, other.traits.largest)
    return most if look.area is not None and most < CLUMP * look.area else 0.0


def _corner(look: Usual) -> float:
    """Return what a corner of a part shows at a border at most, px."""
    return math.inf if look.area is None else SINGLE * look.area


def _seen_together(one: Track, other: Track) -> list[tuple[Sight, Sight]]:
    """Return the sightings of both in the frames that show both."""
    places = {sight.frame: sight for sight in one.sights}
    return [(places[s.frame], s) for s in other.sights if s.frame in places]


def without_echoes(tracks: list[Crossed], look: Usual) -> list[Crossed]:
    """Return the tracks without those that only echo what another track follows.

    A region that two tracks share and that is as large as one part belongs to one of them. Where
    no other track is counted there, it belongs to this one, however little it has of its own.
    """
    own = [one for one in tracks if not is_echo(one.track, look)]
    kept: list[Crossed] = []
    for one in tracks:
        if is_echo(one.track, look):
            others = [other.track for other in [*own, *kept]]
            shared = any(_shares(one.track, other, look.model) for other in others)
            if not shared:
                kept.append(one)
    return own + kept


def _shares(echo: Track, other: Track, model: SpeedModel) -> bool:
    """Whether most of what the echo shares is where the other track is at the time.

    Seen there, or on its way from one sighting to the next: the echo may have taken its regions.
    """
    reach = TWIN_SHARE * max(other.length, echo.length)
    shared = [sight for sight in echo.sights if not sight.alone]
    places = [_place_of(other, sight.t_s, model) for sight in shared]
    there = [
        sight
        for sight, place in zip(shared, places, strict=True)
        if place is not None and max(abs(place[0] - sight.y), abs(place[1] - sight.x)) < reach
    ]
    return 2 * len(there) > len(shared)


def _place_of(track: Track, t_s: float, model: SpeedModel) -> tuple[float, float] | None:
    """Return where a track was along the fall and across it; None before it and after it.

    From sighting to sighting it falls: what is on a parabola is off the line between two of its
    points by a/2 times the time from each.
    """
    times_s = [sight.t_s for sight in track.sights]
    if not times_s[0] <= t_s <= times_s[-1]:
        return None
    y = float(np.interp(t_s, times_s, [sight.y for sight in track.sights]))
    x = float(np.interp(t_s, times_s, [sight.x for sight in track.sights]))
    after = bisect_left(times_s, t_s)
    if after:
        y += 0.5 * model.acceleration * (t_s - times_s[after - 1]) * (t_s - times_s[after])
    return y, x


def passages(one: Crossed, look: Usual, origin_ns: int) -> list[Passage]:
    """Return the track's passages; `id` is 0 until the tracker numbers them."""
    track = one.track
    if not one.crossings:
        doubt = _doubt_of_none(track, look)
        return [none(track, look, doubt, origin_ns)] if doubt > USUAL else []
    size = clump_size(track, look) if is_clump(track, look) else 1
    return [
        Passage(
            id=0,
            t_ns=origin_ns + round(c.t_s * 1e9),
            sigma_ns=max(1, round(c.sigma_s * 1e9)),
            direction=c.direction,
            basis=c.basis,
            speed_px_s=c.speed,
            across_px=c.x,
            length_px=_length(track),
            parts=_parts(one, c, size, look),
            doubt=_doubt(one, c, size, look),
            first_frame=track.sights[0].frame,
            last_frame=track.sights[-1].frame,
        )
        for c in one.crossings
    ]


def _parts(one: Crossed, crossing: Crossing, size: int | None, look: Usual) -> int:
    """Return how many parts a crossing stands for: `size`, or None for a clump of unknown size.

    A clump stands for as many as its size tells, else for as many as is likely by its area. What
    went behind another part and was never seen again is a part if it was ever seen on its own; else
    it is more often a piece of that other one.
    """
    if not crossing.sure and len(one.track.whole) < LEAST_WHOLE:
        return 0
    if _in_patches(one.track, look):
        return 0
    return size or likely_size(one.track, look)


def _length(track: Track) -> float | None:
    return track.traits.length if track.whole else None


def _doubt(one: Crossed, crossed: Crossing, size: int | None, look: Usual) -> float:
    track = one.track
    doubt = USUAL
    if size != 1:
        doubt += UNSURE if size is None else CLUMP_SIZED
    doubt += UNSURE if shared_by_two(track, look) else 0.0
    doubt += FEW_SIGHTS if len(track.sights) <= 2 else 0.0
    doubt += BY_BORDER if crossed.basis is Basis.EXTRAPOLATED else 0.0
    if not crossed.alone:
        doubt += UNSURE if _follows_another(track, look) else NOT_ALONE
    doubt += 0.0 if crossed.sure else UNSURE
    if len(track.sights) == 1 or _strays(one) or _unlike_itself(track):
        doubt += UNSURE
    if _in_patches(track, look) or (crossed.basis is Basis.EXTRAPOLATED and _vanished(track)):
        doubt += UNSURE
    if _small_and_seldom(track, look):
        doubt += UNSURE
    if not look.model.learned:
        doubt += UNLEARNED
    doubt += _other_side(track)
    return min(doubt, 0.9)


def _other_side(track: Track) -> float:
    """Return the chance that what has come to rest lies on the other side of the line.

    That is beyond zero of a normal deviate, the place by its sigma.
    """
    if track.ended != "rest":
        return 0.0
    last = track.sights[-1]
    return 0.5 * math.erfc(abs(last.y) / math.sqrt(2.0 * last.var_y))


def _in_patches(track: Track, look: Usual) -> bool:
    """Whether a track that has not the size of the others was seen here and there only."""
    return track.traits.patchy and not is_like_a_part(track, look)


def _vanished(track: Track) -> bool:
    """Whether a track was seen above the line only, and not where it ought to have been since."""
    return track.ended == "exit" and track.missed > 1 and track.sights[-1].y < 0


def _small_and_seldom(track: Track, look: Usual) -> bool:
    """Whether a track is far below the size of the others, and few sightings tell it from dust."""
    if look.area is None or len(track.whole) >= LEAST_WHOLE:
        return False
    return track.traits.largest < SINGLE * look.area


def _follows_another(track: Track, look: Usual) -> bool:
    """Whether a track that shares a region at the line may follow another part there.

    It has holes and on one side of the line nothing of its own, so that it was lost. Or what it
    has of its own is a part's size too seldom: dust, or pieces of a part that is counted already.
    What shared a region from the first is for `without_echoes` to say.
    """
    above = any(sight.alone for sight in track.sights if sight.y < 0)
    below = any(sight.alone for sight in track.sights if sight.y > 0)
    if track.traits.patchy and not (above and below):
        return True
    own = [sight.area for sight in track.sights if sight.alone]
    of_size = [area for area in own if look.area is None or CLUMP * area > look.area]
    by_itself = bool(track.whole) or track.sights[0].alone
    return by_itself and len(of_size) < LEAST_WHOLE


def _strays(one: Crossed) -> bool:
    """Whether a short track that did not stop leaves every lawful path by far."""
    short = len(one.track.sights) <= SHORT and one.track.halted_s is None
    return short and one.misfit > MISFIT


def _unlike_itself(track: Track) -> bool:
    """Whether a short track, or one with holes, links a region to one that is far smaller.

    What a border cuts is larger than it shows.
    """
    if len(track.sights) >= SHORT and not track.traits.patchy:
        return False
    least = min((sight.area for sight in track.whole), default=math.inf)
    return UNLIKE * least < track.traits.largest


def _doubt_of_none(track: Track, look: Usual) -> float:
    """Return the chance that a track without a crossing hides one."""
    if track.ended == "rest":
        return _other_side(track)
    if _seen_beyond(track):
        return LOST
    downstream = track.sights[-1].y > 0
    speed = float(look.model.speed_at(np.array([track.t_s]), np.array([track.sights[-1].y]))[0])
    fast = look.sightings < FAST_SIGHTINGS
    seen = len(track.sights) >= 3 or (fast and is_like_a_part(track, look))
    if not seen or track.along.speed <= 0.3 * speed:
        return 0.0
    if not downstream and track.ended in ("midway", "hidden"):
        return LOST
    if downstream and track.born in ("midway", "beside"):
        return LOST
    return 0.0


def _seen_beyond(track: Track) -> bool:
    """Whether a part that came in was seen whole and alone clearly beyond the line.

    If it has no crossing this was taken for jitter; but what was seen later may be another part.
    """
    beyond = (s.y > CLEARLY * math.sqrt(s.var_y) for s in track.whole)
    return track.born == "entry" and any(beyond)


def none(track: Track, look: Usual, doubt: float, origin_ns: int) -> Passage:
    """Return the passage of no parts that stands for a track which may have crossed.

    `doubt` is the chance that a part has; `origin_ns` the time at which the track's clock is 0.
    """
    near = next((sight for sight in track.sights if sight.y > 0), track.sights[-1])
    speed = max(float(look.model.at(near.t_s)), 1e-3)
    t_s = near.t_s - near.y / speed
    return Passage(
        id=0,
        t_ns=origin_ns + round(t_s * 1e9),
        sigma_ns=max(1, round(abs(near.y) / speed * 0.5e9)),
        direction=Direction.WITH,
        basis=Basis.EXTRAPOLATED,
        speed_px_s=speed,
        across_px=near.x,
        length_px=None,
        parts=0,
        doubt=doubt,
        first_frame=track.sights[0].frame,
        last_frame=track.sights[-1].frame,
    )
