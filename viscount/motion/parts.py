"""Which tracks are parts on their way: by size, by extent, by how they move.

A region that flickers in place, specks that chance links, a shadow that jumps from edge to edge
can all seem to cross the line. None of them moves as a part does.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from viscount.motion.crossing import Crossed
from viscount.motion.paths import fitted
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.spread import MAD_TO_SIGMA, quantile, robust_sd
from viscount.motion.track import Track

Floats = NDArray[np.float64]

UNSTATED = MotionPrior()
SPECK = 0.1
"""A track whose usual area is below this share of the parts' is no part."""
ENOUGH_SIGHTS = 4
"""From so many sightings on, a track may have a speed of its own."""
SINGLE = 0.3
"""A track with this share of the usual area may be a part by itself where that is a group's."""
MANY_SMALL = 2.0
"""So many small regions for each part abound."""
SLIVER = 0.25
"""A region below this share of the usual one says little of a part of its own."""
CLUMP = 1.6
"""A region this many times the usual one may be several parts at once (see `clumps`)."""
NEAR = 100
"""So many parts, next to each other in time, are compared."""
STANDS_OUT, LEAST_LESSER, LEAST_TENTH = 1.15, 4, 0.1
"""What is so many times as large as the next lesser parts, of which there are so many at least,
may be no single one."""
FEW_STAND_OUT, LEAST_FEW, FEW_TIMES = 1.3, 2, 4.0
"""Of fewer that must be more, and the gap so many times as wide as they differ: two or three may
be alike by chance."""
FEW_ALONE, ALONE_SHARE = 3, 0.25
"""So many, and this share, that look as taught show what one part looks like in this light."""
LEAST_SPAN = 0.15
"""A track that appeared in plain view must be followed through this share of it."""
LEAST_WHOLE = 3
"""A track that did not come through the border must be seen whole so often."""
LEAST_SHARED = 6
"""So often at least where another part is thought to be in the same region."""
FAST_SIGHTINGS = 8.0
"""Where a part is in view for fewer frames than this, two of them must do."""
MANY_SIGHTS, LEAST_WAY = 10, 0.05
"""What is seen in so many frames and stays within this share of the view is not on its way."""
WANDER_PX, WANDER_SHARE = 1.0, 0.25
"""Steps beyond this are clear ones; a part turns back in few of them, when it bounces."""
ROUGH_SIGHTS, ROUGH_SHARE, ROUGH_PX = 8, 0.18, 8.0
"""From so many sightings on, the speed of a part that takes longer steps than that is steadier
than this from step to step."""
JUMP_SHARE = 0.02
"""A path is smooth when its sightings lie within this share of its span."""
CHANCE_SHARE = 0.25
"""A short track may be this much faster or slower than foreseen: along a pour parts grow faster,
and the last of them teach nothing. Chance links strangers, a good part of a step apart."""
LEAST_OF_LENGTH = 0.6
"""A region that is seen often and does not move by this share of its length stands still."""
LEAST_MOVE_PX = 2.0
LEAST_PACE = 0.2
"""A readout that keeps pace with the parts shows anything; below this it is refused elsewhere."""


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
    prior: MotionPrior = UNSTATED
    """What is known of the parts beforehand."""
    length: float | None = None
    """Extent along the fall, px, that three in four of them do not exceed."""
    alone: float | None = None
    """Largest area of those that look like one taught part; None where too few do."""
    alone_spread: float = 0.0
    """Robust standard deviation of those."""
    cluttered: bool = False
    """Whether small regions abound: chance links some of them along the fall, here and there."""
    outliers: Floats = field(default_factory=lambda: np.array([[-np.inf], [np.inf]]))
    """(2, n) times in s, ascending, and the least area in px that stands out from then on."""

    @property
    def sightings(self) -> float:
        """In how many frames a part is seen on its way through the view."""
        step = self.model.usual_speed * self.model.interval_s
        return self.view / max(step, 1e-9)

    @property
    def stretch(self) -> float:
        """By how much a rolling shutter along the fall shows parts longer: 1/(1 - v x line time),
        the line that overtakes them."""
        return 1.0 / max(1.0 - self.model.usual_speed * self.prior.line_time_along_s, LEAST_PACE)

    def outlying(self, t_s: float) -> float:
        """Return the least area that stands out from the parts next to that time, px; see
        `standing_out`."""
        times_s, least = self.outliers
        return float(least[max(int(np.searchsorted(times_s, t_s, side="right")) - 1, 0)])


class Size(NamedTuple):
    """What a track that crosses the line shows of its part: largest area, usual length and area
    where it is whole, NaN where it never is, px; and about when it is at the line, s."""

    area: float
    length: float
    whole_area: float
    t_s: float


def sizes(tracks: Iterable[Crossed]) -> Floats:
    """Return what the n tracks that cross the line and move show of their parts, (n, 4); a row is
    a `Size`."""
    through = [one.track for one in tracks if one.crossings and len(one.track.sights) >= 2]
    found = [
        Size(
            area=t.traits.largest,
            length=t.traits.length if t.whole else math.nan,
            whole_area=t.traits.whole_area if t.whole else math.nan,
            t_s=t.when,
        )
        for t in through
        if _moves(t)
    ]
    return np.array(found, dtype=np.float64).reshape(-1, 4)


def usual(seen: Floats, model: SpeedModel, view: float, prior: MotionPrior = UNSTATED) -> Usual:
    """Return what parts look like, by what those that crossed the line showed, (n, 4); see `sizes`.

    The usual area is such that half of all area that crosses belongs to larger tracks: however
    many specks drift across, they hold little of it.
    """
    if not len(seen):
        return Usual(area=None, crossed=0, area_spread=0.0, model=model, view=view, prior=prior)
    shown, length, whole_area, t_s = seen.T
    areas = np.sort(shown)
    total = areas.cumsum()
    area = float(areas[np.searchsorted(total, 0.5 * total[-1])])
    alike = areas[areas > SPECK * area]
    # Where groups stay together, they hold most of the area; most tracks are single parts.
    own = alike[alike > SINGLE * area]
    # The lower of the two in the middle: between a part and a pair there is nothing usual.
    area = min(area, float(own[(own.size - 1) // 2]))
    lengths = length[~np.isnan(length) & (shown > SPECK * area)]
    alone = _alone(alike, model, prior)
    like = ~np.isnan(whole_area) & (shown > SINGLE * area)
    in_time = np.lexsort((whole_area[like], t_s[like]))
    return Usual(
        area=area,
        crossed=alike.size,
        area_spread=_spread_about(alike[alike <= CLUMP * area], area),
        model=model,
        view=view,
        prior=prior,
        length=quantile(lengths, 0.75) if lengths.size else None,
        alone=None if alone is None else quantile(alone),
        alone_spread=0.0 if alone is None else robust_sd(alone),
        outliers=_outliers(t_s[like][in_time], whole_area[like][in_time]),
    )


def standing_out(areas: Floats) -> float:
    """Return the least of these areas, px, that a gap parts from most others which is wider than
    those differ; inf where there is none.

    After Dixon's ratio of gap and range (Ann. Math. Stat. 21 (1950) 488), of logarithms and
    without the least tenth, of which less may show.
    """
    ordered = np.sort(areas)
    logs = np.log(ordered)
    gaps = logs[1:] - logs[:-1]
    for below in np.flatnonzero(gaps > math.log(STANDS_OUT)):
        number = int(below) + 1
        least, times = (FEW_STAND_OUT, FEW_TIMES) if number < LEAST_LESSER else (STANDS_OUT, 1.0)
        differ = logs[below] - logs[int(LEAST_TENTH * number)]
        most = number >= max(LEAST_FEW, 0.5 * (areas.size - 1))
        if most and gaps[below] > max(math.log(least), times * differ):
            return float(ordered[number])
    return math.inf


def _outliers(t_s: Floats, areas: Floats) -> Floats:
    """Return (2, m) from when on which area stands out, by (n,) times, ascending, and areas."""
    if areas.size <= NEAR:
        return np.array([[-np.inf], [standing_out(areas)]])
    windows = np.lib.stride_tricks.sliding_window_view(areas, NEAR)
    times_s = t_s[NEAR // 2 : NEAR // 2 + len(windows)]
    return np.array([times_s, [standing_out(window) for window in windows]])


def cluttered(tracks: Sequence[Track], look: Usual) -> bool:
    """Whether far more of the tracks are small regions than have crossed the line."""
    small = sum(_is_small(track, look) for track in tracks)
    return small > MANY_SMALL * max(look.crossed, 1)


def _is_small(track: Track, look: Usual) -> bool:
    return look.area is not None and track.traits.area < SINGLE * look.area


def _alone(areas: Floats, model: SpeedModel, prior: MotionPrior) -> Floats | None:
    """Return those areas that a taught part shows in any light; None where too few do."""
    single = prior.single
    if single is None:
        return None
    smeared = single.smeared(model.usual_speed * prior.exposure_s)
    low, high = single.area.low - single.rim(), single.area.high + single.rim() + smeared
    own = areas[(areas >= low) & (areas <= high)]
    return own if own.size >= max(FEW_ALONE, ALONE_SHARE * areas.size) else None


def _spread_about(areas: Floats, middle: float) -> float:
    return MAD_TO_SIGMA * quantile(np.abs(areas - middle))


def is_speck(track: Track, look: Usual) -> bool:
    """Whether the track is far smaller than the parts of this pour."""
    usual = look.model.area_px if look.area is None else look.area
    return track.traits.area < SPECK * usual


def is_part(track: Track, look: Usual) -> bool:
    """Whether the track is a part on its way, by size, extent and motion."""
    if is_speck(track, look):
        return False
    loose = track.traits.patchy or len(track.whole) < LEAST_WHOLE
    if look.cluttered and loose and _is_small(track, look):
        return False
    if len(track.sights) == 1:
        # It must have come and gone between two frames; the frame that shows it gone is one.
        passed = track.born == "entry" and track.ended == "exit" and track.missed <= 1
        return passed and look.model.learned
    if track.born in ("midway", "beside", "side") and not _seen_enough(track, look):
        return False
    if track.born == "midway" and track.traits.span < LEAST_SPAN * look.view:
        return False
    if track.born == "midway" and (_jumps(track) or track.traits.patchy):
        return False
    if track.born in ("midway", "beside", "side") and _rough(track):
        return False
    if len(track.sights) >= MANY_SIGHTS and track.traits.span < LEAST_WAY * look.view:
        return False
    return _moves(track) and not _wanders(track) and not _by_chance(track, look.model)


def is_echo(track: Track, look: Usual) -> bool:
    """Whether the track has next to nothing of its own: it may be an echo of another part's.

    It began with a sliver at the border, and from then on was thought to share regions that are
    no larger than one part. Whose they are is for whoever sees all tracks to say.
    """
    if track.whole or look.area is None:
        return False
    own = [s.area for s in track.sights if s.alone]
    shared = [s.area for s in track.sights if not s.alone]
    sliver = max(own, default=0.0) < SLIVER * look.area
    return bool(shared) and sliver and max(shared) < CLUMP * look.area


def is_like_a_part(track: Track, look: Usual) -> bool:
    """Whether the track has about the size of this pour's parts."""
    if look.area is None or not track.whole:
        return False
    return look.area / CLUMP < track.traits.whole_area < CLUMP * look.area


def _seen_enough(track: Track, look: Usual) -> bool:
    """Whether a track that did not come through the border was seen whole often enough.

    In a fast stream two sightings must do, where size and speed are those of the others.
    """
    if len(track.whole) >= LEAST_WHOLE or _stays_single(track, look):
        return True
    fast = look.sightings < FAST_SIGHTINGS
    return fast and len(track.whole) == 2 and is_like_a_part(track, look)


def _stays_single(track: Track, look: Usual) -> bool:
    """Whether a track had regions of its own all along that are no larger than one part.

    Another part that was lost behind it may be thought to be in them for as long.
    """
    areas = [sight.area for sight in track.sights if sight.whole]
    if look.area is None or len(areas) < LEAST_SHARED:
        return False
    # One that turns shows ever less of itself; seen for long, and once in full, it is no piece.
    least = min(areas) if len(areas) < MANY_SIGHTS else max(areas)
    return look.area / CLUMP < least and max(areas) < CLUMP * look.area and not track.traits.patchy


def _wanders(track: Track) -> bool:
    """Whether the track keeps turning back, as a place that flickers does and no part does."""
    # In a region that two parts share the middle goes to and fro between them.
    least = max(WANDER_PX, 4.0 * track.traits.sigma_y)
    places = [sight.y for sight in track.sights if sight.alone]
    steps = [after - before for before, after in pairwise(places)]
    onward = [step > 0.0 for step in steps if abs(step) > least]
    turns = sum([one is not other for one, other in pairwise(onward)])
    return len(onward) >= ENOUGH_SIGHTS and turns > WANDER_SHARE * len(onward)


def _jumps(track: Track) -> bool:
    """Whether a short track that came from nowhere leaves every smooth path.

    A parabola fits any throw; what is left of chance links is a good part of their length.
    """
    if not ENOUGH_SIGHTS <= len(track.sights) < MANY_SIGHTS:
        return False
    t = np.array([sight.t_s for sight in track.sights])
    y = np.array([sight.y for sight in track.sights])
    residual = y - np.polyval(np.polyfit(t - t.mean(), y, 2), t - t.mean())
    return bool(np.sqrt(np.mean(residual**2)) > JUMP_SHARE * track.traits.span)


def _rough(track: Track) -> bool:
    """Whether a fast track's speed keeps changing otherwise than steadily."""
    if len(track.sights) < ROUGH_SIGHTS:
        return False
    steps = np.diff([s.y for s in track.sights])
    speeds = steps / np.diff([s.t_s for s in track.sights])
    # The second difference leaves out any steady acceleration.
    rough = float(np.median(np.abs(np.diff(speeds, 2)))) / float(np.median(np.abs(speeds)) or 1.0)
    return rough > ROUGH_SHARE and float(np.median(np.abs(steps))) > ROUGH_PX


def _by_chance(track: Track, model: SpeedModel) -> bool:
    """Whether a short track moves so unlike the others that chance must have linked it."""
    if len(track.sights) >= ENOUGH_SIGHTS or not model.learned:
        return False
    path = fitted([track.traits.way_at_all], model, with_prior=False)
    foreseen = float(model.speed_at(path.t_s, path.y)[0])
    usual = 5.0 * math.hypot(path.var_speed[0] ** 0.5, model.spread * foreseen)
    return abs(float(path.speed[0]) - foreseen) > max(usual, CHANCE_SHARE * foreseen)


def _moves(track: Track) -> bool:
    """Whether the track went further than its own uncertainty, and not only to and fro."""
    own = LEAST_OF_LENGTH * track.length if len(track.sights) >= ENOUGH_SIGHTS else 0.0
    return track.traits.span > max(LEAST_MOVE_PX, 4.0 * track.traits.sigma_y, own)
