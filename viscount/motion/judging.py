"""Which tracks are parts, and how sure each passage is.

A doubt is the chance that the number of parts of a passage is wrong. Something that may have
passed without being counted becomes a passage of no parts, with its doubt.
"""

import math
from dataclasses import dataclass
from statistics import median

import numpy as np

from viscount.motion.crossing import Crossing, crossings, fit
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
UNLEARNED = 0.06
"""Added where the clip did not teach how fast parts move."""
LOST = 0.3
"""Doubt of a track that broke off or appeared in plain view on its way to or from the line."""
SPECK = 0.1
"""A track whose largest area is below this share of the usual one is no part."""
ENOUGH_SIGHTS = 4
"""From so many sightings on, a track may have a speed of its own."""
ENOUGH_TO_COMPARE = 5
"""So many parts are needed to call one of them too large."""
CLUMP = 1.6
"""A region this many times the usual one may be several parts at once."""
LEAST_SPAN = 0.15
"""A track that appeared in plain view must be followed through this share of it."""
LEAST_WHOLE = 3
"""A track that did not come through the border must be seen whole so often."""
MANY_SIGHTS, LEAST_WAY = 10, 0.05
"""What is seen in so many frames and stays within this share of the view is not on its way."""
WANDER_PX, WANDER_SHARE = 1.0, 0.25
"""Steps beyond this are clear ones; a part turns back in few of them, when it bounces."""
ROUGH_SIGHTS, ROUGH_SHARE, ROUGH_PX = 8, 0.18, 8.0
"""From so many sightings on, the speed of a part that takes longer steps than that is steadier
than this from step to step."""
LEAST_SEEN = 0.7
"""A part that came from nowhere must be seen in this share of the frames since."""
TWIN_SHARE = 0.5
"""Two crossings within this share of a part's length of each other may be the same part's."""
JUMP_SHARE = 0.02
"""A path is smooth when its sightings lie within this share of its span."""
LEAST_OF_LENGTH = 0.6
"""A region that is seen often and does not move by this share of its length stands still."""
LEAST_MOVE_PX = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """What the parts of this pour look like: largest area in px, and speed at the line."""

    area: float | None
    crossed: int
    """How many tracks of that kind crossed the line."""
    area_spread: float
    """Robust standard deviation of those areas."""
    model: SpeedModel
    view: float
    """Length of the view along the fall, px."""

    @property
    def sightings(self) -> float:
        """In how many frames a part is seen on its way through the view."""
        step = float(np.median(self.model.speed)) * self.model.interval_s
        return self.view / max(step, 1e-9)


@dataclass(frozen=True, kw_only=True, eq=False)
class Crossed:
    """A track with its crossings of the line."""

    track: Track
    crossings: list[Crossing]


def crossed(tracks: list[Track], model: SpeedModel) -> list[Crossed]:
    """Find the crossings of each track."""
    return [Crossed(track=t, crossings=crossings(t, model)) for t in tracks]


def without_twins(tracks: list[Crossed]) -> list[Crossed]:
    """Return the tracks without those that follow the same part as a better one.

    Two tracks may take turns at one part: they cross at the same time and place, and no frame
    ever shows them apart.
    """
    kept: list[Crossed] = []
    for one in sorted(tracks, key=lambda c: -len(c.track.sights)):
        if not any(_twins(one, other) for other in kept):
            kept.append(one)
    return kept


def _twins(one: Crossed, other: Crossed) -> bool:
    if not (one.crossings and other.crossings):
        return False
    a, b = one.crossings[0], other.crossings[0]
    reach = TWIN_SHARE * max(one.track.length, other.track.length)
    near = abs(a.t_s - b.t_s) * max(abs(a.speed), abs(b.speed)) < reach and abs(a.x - b.x) < reach
    if not near or a.direction is not b.direction:
        return False
    frames = {sight.frame for sight in one.track.sights}
    return frames.isdisjoint(sight.frame for sight in other.track.sights)


def usual(tracks: list[Crossed], model: SpeedModel, view: float) -> Usual:
    """Return what parts look like, by the tracks that cross the line.

    The usual area is such that half of all area that crosses belongs to larger tracks: however
    many specks drift across, they hold little of it.
    """
    through = [one.track for one in tracks if one.crossings]
    crossing = [track for track in through if len(track.sights) >= 2 and _moves(track)]
    if not crossing:
        return Usual(area=None, crossed=0, area_spread=0.0, model=model, view=view)
    areas = np.sort([_largest(t) for t in crossing])
    total = areas.cumsum()
    area = float(areas[np.searchsorted(total, 0.5 * total[-1])])
    alike = areas[areas > SPECK * area]
    spread = float(1.4826 * np.median(np.abs(alike - area)))
    return Usual(area=area, crossed=alike.size, area_spread=spread, model=model, view=view)


def passages(one: Crossed, look: Usual, origin_ns: int) -> list[Passage]:
    """Return the track's passages; `id` is 0 until the tracker numbers them."""
    track = one.track
    if not one.crossings:
        doubt = _doubt_of_none(track, look)
        return [_none(track, look, doubt, origin_ns)] if doubt else []
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
            parts=_parts(one, c),
            doubt=_doubt(track, c, look),
            first_frame=track.sights[0].frame,
            last_frame=track.sights[-1].frame,
        )
        for c in one.crossings
    ]


def _parts(one: Crossed, crossing: Crossing) -> int:
    """Return how many parts a crossing stands for.

    What went behind another part and was never seen again is a part if it was ever seen on
    its own; else it is more often a piece of that other one.
    """
    return 1 if crossing.sure or len(one.track.whole) >= LEAST_WHOLE else 0


def _length(track: Track) -> float | None:
    whole = [s.length for s in track.whole]
    return median(whole) if whole else None


def is_speck(track: Track, look: Usual) -> bool:
    """Whether the track is far smaller than the parts of this pour."""
    usual = look.model.area_px if look.area is None else look.area
    return median(s.area for s in track.sights) < SPECK * usual


def is_clump(track: Track, look: Usual) -> bool:
    """Whether the track's region is all along too large for one part of this pour."""
    if look.area is None or look.crossed < ENOUGH_TO_COMPARE:
        return False
    areas = [s.area for s in track.whole]
    most = max(CLUMP * look.area, look.area + 5.0 * look.area_spread)
    return bool(areas) and median(areas) > most


def is_part(track: Track, look: Usual) -> bool:
    """Whether the track is a part on its way, by size, extent and motion."""
    if is_speck(track, look):
        return False
    if len(track.sights) == 1:
        # It must have come and gone between two frames; the frame that shows it gone is one.
        passed = track.born == "entry" and track.ended == "exit" and track.missed <= 1
        return passed and look.model.learned
    if track.born in ("midway", "beside", "side") and len(track.whole) < LEAST_WHOLE:
        return False
    if track.born == "midway" and _span(track) < LEAST_SPAN * look.view:
        return False
    if track.born == "midway" and (_jumps(track) or _patchy(track)):
        return False
    if track.born in ("midway", "beside", "side") and _rough(track):
        return False
    if len(track.sights) >= MANY_SIGHTS and _span(track) < LEAST_WAY * look.view:
        return False
    return _moves(track) and not _wanders(track) and not _by_chance(track, look.model)


def _wanders(track: Track) -> bool:
    """Whether the track keeps turning back, as a place that flickers does and no part does."""
    steps = np.diff([sight.y for sight in track.sights])
    noise = 4.0 * math.sqrt(median(sight.var_y for sight in track.sights))
    clear = steps[np.abs(steps) > max(WANDER_PX, noise)]
    turns = int((np.sign(clear[1:]) != np.sign(clear[:-1])).sum())
    return bool(clear.size >= ENOUGH_SIGHTS and turns > WANDER_SHARE * clear.size)


def _jumps(track: Track) -> bool:
    """Whether a short track that came from nowhere leaves every smooth path.

    A parabola fits any throw; what is left of chance links is a good part of their length.
    """
    if not ENOUGH_SIGHTS <= len(track.sights) < MANY_SIGHTS:
        return False
    t = np.array([sight.t_s for sight in track.sights])
    y = np.array([sight.y for sight in track.sights])
    residual = y - np.polyval(np.polyfit(t - t.mean(), y, 2), t - t.mean())
    return bool(np.sqrt(np.mean(residual**2)) > JUMP_SHARE * _span(track))


def _rough(track: Track) -> bool:
    """Whether a fast track's speed keeps changing otherwise than steadily."""
    if len(track.sights) < ROUGH_SIGHTS:
        return False
    steps = np.diff([s.y for s in track.sights])
    speeds = steps / np.diff([s.t_s for s in track.sights])
    # The second difference leaves out any steady acceleration.
    rough = float(np.median(np.abs(np.diff(speeds, 2)))) / float(np.median(np.abs(speeds)) or 1.0)
    return rough > ROUGH_SHARE and float(np.median(np.abs(steps))) > ROUGH_PX


def _patchy(track: Track) -> bool:
    """Whether a track has too many holes for a part in plain view."""
    frames = track.sights[-1].frame - track.sights[0].frame + 1
    return len(track.sights) < LEAST_SEEN * frames


def _span(track: Track) -> float:
    places = [sight.y for sight in track.sights]
    return max(places) - min(places)


def _largest(track: Track) -> float:
    return max(s.area for s in track.sights)


def _by_chance(track: Track, model: SpeedModel) -> bool:
    """Whether a short track moves so unlike the others that chance must have linked it."""
    if len(track.sights) >= ENOUGH_SIGHTS or not model.learned:
        return False
    path, _ = fit(track.sights, model, with_prior=False)
    foreseen = float(model.speed_at(np.array([path.t_s]), np.array([path.y]))[0])
    own = float(np.sqrt(path.covariance[1, 1]))
    return abs(path.speed - foreseen) > 5.0 * float(np.hypot(own, model.spread * foreseen))


def _moves(track: Track) -> bool:
    """Whether the track went further than its own uncertainty, and not only to and fro."""
    sigma = math.sqrt(median(s.var_y for s in track.sights))
    own = LEAST_OF_LENGTH * track.length if len(track.sights) >= ENOUGH_SIGHTS else 0.0
    return _span(track) > max(LEAST_MOVE_PX, 4.0 * sigma, own)


def _doubt(track: Track, crossed: Crossing, look: Usual) -> float:
    doubt = USUAL
    doubt += UNSURE if is_clump(track, look) else 0.0
    doubt += FEW_SIGHTS if len(track.sights) <= 2 else 0.0
    doubt += BY_BORDER if crossed.basis is Basis.EXTRAPOLATED else 0.0
    doubt += 0.0 if crossed.alone else NOT_ALONE
    doubt += 0.0 if crossed.sure else UNSURE
    if len(track.sights) == 1:
        doubt += UNSURE
    if not look.model.learned:
        doubt += UNLEARNED
    return min(doubt, 0.9)


def _doubt_of_none(track: Track, look: Usual) -> float:
    """Return the chance that a track without a crossing hides one."""
    downstream = track.sights[-1].y > 0
    speed = float(look.model.speed_at(np.array([track.t_s]), np.array([track.sights[-1].y]))[0])
    like_a_part = track.along.speed > 0.3 * speed and len(track.sights) >= 3
    if not like_a_part:
        return 0.0
    if not downstream and track.ended in ("midway", "hidden"):
        return LOST
    if downstream and track.born in ("midway", "beside"):
        return LOST
    return 0.0


def _none(track: Track, look: Usual, doubt: float, origin_ns: int) -> Passage:
    """Return the passage of no parts that stands for a track which may have crossed."""
    last = track.sights[-1] if track.sights[-1].y < 0 else track.sights[0]
    speed = max(float(look.model.at(last.t_s)), 1e-3)
    t_s = last.t_s - last.y / speed
    return Passage(
        id=0,
        t_ns=origin_ns + round(t_s * 1e9),
        sigma_ns=max(1, round(abs(last.y) / speed * 0.5e9)),
        direction=Direction.WITH,
        basis=Basis.EXTRAPOLATED,
        speed_px_s=speed,
        across_px=last.x,
        length_px=None,
        parts=0,
        doubt=doubt,
        first_frame=track.sights[0].frame,
        last_frame=track.sights[-1].frame,
    )
