"""What there is to say of a pour as a whole, beyond its single passages."""

import math
from collections.abc import Iterator
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.motion import seldom
from viscount.motion.clumps import (
    ENOUGH_TO_COMPARE,
    LARGER,
    clump_size,
    is_clump,
    likely_size,
    most_stated,
)
from viscount.motion.differing import unlike_part
from viscount.motion.parts import Usual
from viscount.motion.resting import still
from viscount.motion.sight import Sight
from viscount.motion.speed import MotionPrior
from viscount.motion.spread import quantile
from viscount.motion.track import Track
from viscount.values import Level, Notice

LEFT_OVER, LEFT_OVER_SHARE, LEFT_OVER_AREA = 3, 0.05, 0.3
"""So many sightings, and this share of all, of at least this share of a part's area, may be
left over before the paths are doubted."""
STRETCH = 60
"""A long pour is looked through so many parts at a time: what is wrong in one place is little of
all of it."""
UNLIKELY, UNLIKELY_SHARE = 5.0, 0.15
"""Lasting surprise of a whole pour, and for each sighting of a part, that is more than chance
brings: about two impossible events."""
SPANNING = 0.9
"""What is as broad as this share of the view may be no part at all."""
WAIST, LEAST_WAISTS = 0.75, 2
"""Two parts that touch are narrower than this where they meet, of the lesser one's breadth; so it
is of so many sightings at least. Noise takes a tenth or two off a thin part."""
STEADILY = 0.75
"""In this share of them; noise, that opens a ring, does so now and then."""
DEEP_WAIST = 0.65
"""What lies within one part of the stated sizes may be that part; no noise cuts it in so deep."""
COMMON_WAIST, HALF_THE_TIME, FEWEST_COMMON = 0.8, 0.5, 3
"""Where most regions, and so many, are narrower than this half the time, noise is no reason."""
TWO_BORES = 2
"""A nut has one, and a washer."""
ELONGATED = 1.5
"""So many times as long as it is broad, a region may be several parts in a row."""
EDGE_SHARE = 0.5
"""What never shows more than this share of a part's area, always at a side of the view, is mostly
beside it."""
MID_STREAM = 2
"""So many parts on their way in the first frame, or in the last, are a stream."""
ONE_SIDED = 0.3
"""Share of parts that may be without a whole sighting on one side of the line."""


def findings(
    ended: list[Track],
    parts: list[Track],
    counted: list[Track],
    look: Usual,
    prior: MotionPrior,
    surprise: float | None,
    breadth: float,
    *,
    decided: bool,
    opens: bool = True,
    closes: bool = True,
) -> list[Iterator[Notice]]:
    """Return the notices that a pour's tracks give rise to, some kinds at a time.

    They are looked into when their iterator is asked, none much longer than any other: not all of
    them need be at once. They are few enough for all to be asked in a stretch of a dense stream,
    one in each frame that is kept for it.

    Parameters
    ----------
    ended : all tracks of the pour.
    parts : those of them that are parts.
    counted : those of the parts that follow none that another one follows better.
    look : what its parts look like, and how they move.
    prior : what the outlet file says of the motion.
    surprise : how little the paths were foreseen (see `Surprise`); None where that is not known.
    breadth : of the view across the fall, px.
    decided : no other speed explains the pour nearly as well.
    opens, closes : whether these tracks are the first of their pour, and the last.
    """
    twice = iter(()) if decided else seldom.seen_twice(parts, look, prior)
    ends = _front_and_tail(ended, parts, look, opens=opens, closes=closes)
    borders = _borders_of_the_clip(parts, prior), _line_near_edge(parts)
    return [
        chain(seldom.seen_once(ended, parts, look), twice, _unlikely(surprise, parts), ends),
        chain(_left_over(ended, parts, look), _stuck(parts)),
        chain(*borders, _from_side_to_side(parts, breadth), _larger_than_stated(parts, look)),
        chain(_clumps(counted, look), _beside_the_view(counted, look)),
        chain(_two_by_shape(parts, look, prior), _lone_rows(parts, look, prior)),
        chain(unlike_part(parts, look, prior), _speed(look, prior)),
    ]


def _unlikely(surprise: float | None, parts: list[Track]) -> Iterator[Notice]:
    sights = sum(len(track.sights) for track in parts)
    if surprise is not None and surprise > max(UNLIKELY, UNLIKELY_SHARE * sights) and parts:
        text = f"surprise {surprise:.0f} in {sights} sightings: parts left their paths, or appeared"
        text += " or vanished in plain view"
        yield Notice(level=Level.DOUBT, code=Code.PATHS_UNLIKELY, text=text)


def _front_and_tail(
    ended: list[Track], parts: list[Track], look: Usual, *, opens: bool, closes: bool
) -> Iterator[Notice]:
    """Doubt paths that do not explain the front or the tail of a pour.

    Of an even stream that is all that tells a wrong speed.
    """
    # Before the first of them live, dust may pass for parts.
    parts, large = (
        [t for t in some if look.area is not None and t.area > LEFT_OVER_AREA * look.area]
        for some in (parts, ended)
    )
    if not parts:
        return
    first = min(parts, key=lambda track: track.sights[0].t_s)
    last = max(parts, key=lambda track: track.sights[-1].t_s)
    text = ""
    if opens and first.born == "midway":
        text = "the first part appeared in plain view: it is another's, or the speed is a wrong one"
    elif opens and any(_ahead(track, first) for track in large):
        text = "ahead of the first part there was something as large: the speed may be a wrong one"
    elif closes and any(_behind(track, last) for track in large):
        text = "behind the last part there was something as large: the speed may be a wrong one"
    if text:
        yield Notice(level=Level.DOUBT, code=Code.PATHS_UNLIKELY, text=text)


def _ahead(track: Track, first: Track) -> bool:
    """Whether a track begins in plain view ahead of the first part of a pour."""
    sight = track.sights[0]
    before = [s.y for s in first.sights if s.frame <= sight.frame]
    soon = first.sights[0].frame < sight.frame <= first.sights[-1].frame + 1
    return track.born == "midway" and soon and sight.y > max(before)


def _behind(track: Track, last: Track) -> bool:
    """Whether a track came in behind the last part of a pour and vanished in plain view."""
    sight = track.sights[-1]
    after = [s.y for s in last.sights if s.frame >= sight.frame]
    late = last.sights[0].frame - 1 <= sight.frame < last.sights[-1].frame
    return track.born == "entry" and track.missed > 1 and late and sight.y < min(after)


def _left_over(ended: list[Track], parts: list[Track], look: Usual) -> Iterator[Notice]:
    """Doubt a count that leaves much of what was seen unexplained: the paths may be wrong."""
    if look.area is None:
        return
    large = LEFT_OVER_AREA * look.area
    used = {id(track) for track in parts}
    fitting = sum(len(track.sights) for track in parts)
    others = [
        sight
        for track in ended
        if id(track) not in used
        for sight in track.sights
        if sight.whole and not sight.aside and sight.area > large
    ]
    left = len(others) - still(others)
    if left > max(LEFT_OVER, LEFT_OVER_SHARE * fitting):
        text = f"{left} of {left + fitting} sightings as large as parts fit no part's path"
        yield Notice(level=Level.DOUBT, code=Code.SIGHTINGS_LEFT_OVER, text=text)
    elif len(parts) > STRETCH:
        yield from _left_over_somewhere(others, parts)


def _left_over_somewhere(others: list[Sight], parts: list[Track]) -> Iterator[Notice]:
    """Doubt a long pour for a stretch of it that would be doubted by itself."""
    began = np.sort([track.t_s for track in parts])[::STRETCH]

    def stretches(sights: list[Sight]) -> NDArray[np.intp]:
        return np.searchsorted(began, [sight.t_s for sight in sights], side="right")

    fitting = np.bincount(
        stretches([sight for track in parts for sight in track.sights]), minlength=began.size + 1
    )
    where = stretches(others)
    for stretch in np.unique(where):
        own = [sight for sight, at in zip(others, where, strict=True) if at == stretch]
        left = len(own) - still(own)
        if left > max(LEFT_OVER, LEFT_OVER_SHARE * fitting[stretch]):
            text = f"about {own[0].t_s:.1f} s {left} sightings as large as parts fit no part's path"
            yield Notice(level=Level.DOUBT, code=Code.SIGHTINGS_LEFT_OVER, text=text)
            return


def _stuck(parts: list[Track]) -> Iterator[Notice]:
    """Tell of parts that stopped and went on; what stays where it is may lie on the blade."""
    stuck = [t.halted_s for t in parts if t.halted_s is not None and t.ended == "exit"]
    if stuck:
        number = f"{len(stuck)} part{'s' if len(stuck) > 1 else ''}"
        text = f"{number} stopped on the way and went on later, the first at {min(stuck):.2f} s"
        yield Notice(level=Level.INFO, code=Code.PART_STUCK, text=text)


def _borders_of_the_clip(parts: list[Track], prior: MotionPrior) -> Iterator[Notice]:
    first = [t for t in parts if t.born == "first frame" and t.along.speed > 0]
    last = [t for t in parts if t.ended == "last frame" and t.along.speed > 0]
    if first:
        # Without front and tail an even stream is explained by several speeds.
        stream = min(len(first), len(last)) >= MID_STREAM and prior.speed_px_s is None
        level = Level.DOUBT if stream else Level.INFO
        text = f"{len(first)} in view when the clip begins"
        yield Notice(level=level, code=Code.PARTS_IN_FIRST_FRAME, text=text)
    above = sum(t.sights[-1].y < 0 for t in last)
    if above:
        text = f"{above} above the line when the clip ends"
        yield Notice(level=Level.INFO, code=Code.PARTS_IN_LAST_FRAME, text=text)


def _line_near_edge(parts: list[Track]) -> Iterator[Notice]:
    through = [t for t in parts if len(t.whole) >= 1]
    one_sided = sum(not _on_both_sides(t) for t in through)
    if len(through) >= 3 and one_sided > ONE_SIDED * len(through):
        text = f"{one_sided} of {len(through)} parts were seen whole on one side of the line only"
        yield Notice(level=Level.INFO, code=Code.LINE_NEAR_EDGE, text=text)


def _on_both_sides(track: Track) -> bool:
    places = [s.y for s in track.whole]
    return min(places) < 0 < max(places)


def _beside_the_view(parts: list[Track], look: Usual) -> Iterator[Notice]:
    """Doubt a count of parts that are mostly beside the view: others may be so altogether."""
    if look.area is None:
        return
    least = EDGE_SHARE * look.area
    number = sum(t.traits.largest < least and all(s.aside for s in t.sights) for t in parts)
    if number:
        text = f"{number} of {len(parts)} parts showed an edge only, at the side of the view"
        yield Notice(level=Level.DOUBT, code=Code.PARTS_BESIDE_VIEW, text=text)


def _clumps(parts: list[Track], look: Usual) -> Iterator[Notice]:
    clumps = [t for t in parts if is_clump(t, look)]
    sizes = [clump_size(t, look) for t in clumps]
    if not clumps:
        return
    told = None not in sizes
    number = sum(size or likely_size(t, look) for t, size in zip(clumps, sizes, strict=True))
    by = "the part's size" if told else "area alone"
    text = f"{len(clumps)} region{'s' if len(clumps) > 1 else ''} too large for one part"
    text += f", counted as {number} by {by}"
    level = Level.INFO if told else Level.DOUBT
    yield Notice(level=level, code=Code.PARTS_MERGED, text=text)


def _two_by_shape(parts: list[Track], look: Usual, prior: MotionPrior) -> Iterator[Notice]:
    """Doubt regions that are narrow in the middle or have two bores, where no part was taught.

    Parts that touch from the first frame to the last look like one part with a waist, and where
    they cover one another their bores may show; stated sizes are too coarse for flat parts.
    """
    if prior.single is not None:
        return
    seen = [track for track in parts if len(track.whole) >= LEAST_WAISTS]
    found = {
        "have a waist": _with_waist(seen, len(parts), look, prior),
        "have two bores or more": _with_bores(seen, look),
    }
    said = [f"{number} of {len(parts)} regions {what}" for what, number in found.items() if number]
    if said:
        text = f"{', '.join(said)}: parts made like that, or two in one"
        yield Notice(level=Level.DOUBT, code=Code.PARTS_MERGED, text=text)


def _with_waist(seen: list[Track], parts: int, look: Usual, prior: MotionPrior) -> int:
    """Return how many of the regions are narrow enough to be two."""
    narrow = [t for t in seen if any(s.waist < COMMON_WAIST for s in t.whole)]
    single = [t for t in narrow if not is_clump(t, look)]
    own = [_within_one(t, look, prior) for t in single]
    common = sum(
        not within and _waist(t, HALF_THE_TIME) < COMMON_WAIST
        for t, within in zip(single, own, strict=True)
    )
    if common >= FEWEST_COMMON and 2 * common > parts:
        return common
    return sum(
        _waist(t, STEADILY) < (DEEP_WAIST if within else WAIST)
        for t, within in zip(single, own, strict=True)
    )


def _with_bores(seen: list[Track], look: Usual) -> int:
    """Return how many of the regions have bores enough to be two."""
    return sum(_bores(track) >= TWO_BORES and not is_clump(track, look) for track in seen)


def _waist(track: Track, share: float) -> float:
    """Return the waist that this share of a track's sightings does not exceed, on its way."""
    known = [s.waist for s in _on_its_way(track) if not math.isnan(s.waist)]
    return quantile(known, share) if len(known) >= LEAST_WAISTS else 1.0


def _bores(track: Track) -> float:
    """Return how many bores half of a track's sightings show, or more, on its way."""
    if not any(s.bores >= TWO_BORES for s in track.whole):
        return 0.0
    known = [s.bores for s in _on_its_way(track) if not math.isnan(s.bores)]
    return quantile(known, 1.0 - HALF_THE_TIME) if len(known) >= LEAST_WAISTS else 0.0


def _lone_rows(parts: list[Track], look: Usual, prior: MotionPrior) -> Iterator[Notice]:
    """Doubt long regions that grow or shrink where no part is stated, and too few to compare with.

    Parts in a row that come apart or close up do, and so does one part that turns.
    """
    stated = prior.single is not None or prior.longest_px is not None
    if stated or look.crossed >= ENOUGH_TO_COMPARE:
        return
    seen = [track for track in parts if len(track.whole) >= LEAST_WAISTS]
    number = sum(_elongated(t) and not t.traits.keeps_its_length for t in seen)
    if number:
        text = f"{number} of {len(parts)} regions are long and change their length: parts that"
        text += " turn, or several in a row; with no part stated so few do not tell"
        yield Notice(level=Level.DOUBT, code=Code.PARTS_MERGED, text=text)


def _elongated(track: Track) -> bool:
    longer = [sight.var_along > ELONGATED**2 * sight.var_across for sight in track.whole]
    return 2 * sum(longer) > len(longer)


def _on_its_way(track: Track) -> list[Sight]:
    """Return its whole sightings until it stops: what lies may lie against another part."""
    until_s = math.inf if track.halted_s is None else track.halted_s
    return [sight for sight in track.whole if sight.t_s < until_s]


def _within_one(track: Track, look: Usual, prior: MotionPrior) -> bool:
    """Whether the region reaches no further than one part of the stated sizes does, and covers
    hardly more than half of the others do.

    An even bar of this second moment is as long as the root of twelve times that; two parts side
    by side have more than either's own. Two thin ones may cross within one's length.
    """
    if prior.longest_px is None or look.area is None:
        return False
    if track.traits.whole_area > LARGER * look.area:
        return False
    most = quantile([max(s.var_along / look.stretch**2, s.var_across) for s in track.whole])
    return math.sqrt(12.0 * most) <= prior.longest_px


def _from_side_to_side(parts: list[Track], breadth: float) -> Iterator[Notice]:
    """Doubt parts that fill the view across: a band of light does, or a hand.

    An even region of this variance across is as broad as the root of twelve times that.
    """
    least = (SPANNING * breadth) ** 2 / 12.0
    number = sum(any(sight.var_across > least for sight in track.whole) for track in parts)
    if number:
        text = f"{number} of {len(parts)} parts reach from one side of the view to the other"
        yield Notice(level=Level.DOUBT, code=Code.LARGE_IN_VIEW, text=text)


def _larger_than_stated(parts: list[Track], look: Usual) -> Iterator[Notice]:
    """Doubt a count of regions that all are too large for the part of the outlet file.

    Where parts leave two by two, no region says by itself that it is two; unless its size does.
    """
    stated = look.prior.part_area_px
    if stated is None or look.area is None:
        return
    if 2 * sum(clump_size(track, look) is not None for track in parts) > len(parts):
        return
    if look.area > most_stated(look):
        text = f"regions of {look.area:.0f} px, where a part shows {stated:.0f} px of itself"
        text += " at most"
        yield Notice(level=Level.DOUBT, code=Code.PARTS_MERGED, text=text)


def _speed(look: Usual, prior: MotionPrior) -> Iterator[Notice]:
    if prior.speed_px_s is None or not look.model.learned:
        return
    seen = look.model.usual_speed
    if abs(seen / prior.speed_px_s - 1.0) > 1.2 * max(prior.speed_tolerance, 0.02):
        text = f"{seen:.0f} px/s at the line, where the outlet file leads to {prior.speed_px_s:.0f}"
        yield Notice(level=Level.DOUBT, code=Code.SPEED_UNLIKE_SETTING, text=text)
