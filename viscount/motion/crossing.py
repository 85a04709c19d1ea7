"""Where and when a track crosses the counting line.

A crossing is decided between sightings, never by one: the part was clearly upstream, and is
clearly downstream now (or the reverse). A single sighting on the other side amid others is
jitter. The time comes from the path fitted to the sightings around the crossing.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, partial
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from viscount.motion.paths import Paths, fitted
from viscount.motion.sight import Sight
from viscount.motion.speed import SpeedModel
from viscount.motion.spread import quantile
from viscount.motion.track import Track
from viscount.motion.traits import way_of
from viscount.values import Basis, Direction

Floats = NDArray[np.float64]

CLEARLY = 3.0
"""A place is clearly on one side of the line beyond this many sigma."""
HIDDEN_LENGTHS = 1.0
"""A part may have crossed the line hidden if it came out within this many of its lengths."""
MOST_MISFIT, FEW_SIGHTS = 4.0, 4
"""A path with a larger misfit does not follow the law; that of so few sightings must."""
NEAR_SIGHTS = 5
"""Sightings on each side of a crossing that its time is fitted to when the whole path does
not follow the law (a bounce, a change of light)."""


CARRIED_NOISE_PX = 0.02
"""No more of the detector's noise is carried from frame to frame: the rest is the sensor's, or of
how the picture as a whole moves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One crossing of one track. Times in s, lengths in px."""

    t_s: float
    sigma_s: float
    direction: Direction
    basis: Basis
    speed: float
    x: float
    alone: bool
    """The part was seen alone in its blob next to the line."""
    sure: bool
    """The part was seen on both sides, or can only have come or gone through the border."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Crossed:
    """A track with its crossings of the line."""

    track: Track
    crossings: list[Crossing]
    misfit: float = 0.0
    """chi² per degree of freedom of its path by the law of the motion."""


def crossed(tracks: Sequence[Track], model: SpeedModel, common: float = 0.0) -> list[Crossed]:
    """Find the crossings of each track, in order of time.

    `common` is the share of the variance of how a part's centres scatter that all its sightings
    have in common (see `Geometry`).
    """
    if not tracks:
        return []
    ways = [t.traits.way if t.whole else t.traits.way_at_all for t in tracks]
    paths = fitted(ways, model, with_prior=np.array([t.born == "entry" for t in tracks]))
    misfit = paths.misfit.tolist()
    at_line = cache(partial(_at_line, paths))
    turns = [_turns(track, model.interval_s) for track in tracks]
    # Of the tracks that do not follow the law the sightings next to each crossing must do.
    lawful = [
        off <= MOST_MISFIT or len(track.sights) <= FEW_SIGHTS
        for off, track in zip(misfit, tracks, strict=True)
    ]
    lawless = [(tracks[k], turn) for k, own in enumerate(turns) if not lawful[k] for turn in own]
    nearby = iter(_at_line_nearby(lawless, model))
    found = []
    for k, (track, own) in enumerate(zip(tracks, turns, strict=True)):
        lines = [at_line(turn.heading)[k] if lawful[k] else next(nearby) for turn in own]
        crossings = [
            _crossing(track, line, model, turn, common)
            for line, turn in zip(lines, own, strict=True)
        ]
        found.append(Crossed(track=track, crossings=crossings, misfit=misfit[k]))
    return found


def _at_line(paths: Paths, heading: int | NDArray[np.intp]) -> list[tuple[float, ...]]:
    """Return time, its sigma and speed at the line for each path."""
    return list(zip(*(column.tolist() for column in paths.at_line(heading)), strict=True))


class _Turn(NamedTuple):
    """From one side of the line to the other: the sightings before and after it, `heading` 1 with
    the fall. See `_sides` for -1 and the number of sightings."""

    last: int
    first: int
    heading: int


def _turns(track: Track, interval_s: float) -> list[_Turn]:
    sides = _settled(_sides(track, interval_s))
    return [
        _Turn(last, first, after)
        for (before, last), (after, first) in pairwise(sides)
        if before != after
    ]


def _sides(track: Track, interval_s: float) -> list[tuple[int, int]]:
    """Return (side, index of sighting), -1 upstream, 1 downstream; undecided ones left out.

    Index -1 and len(sights) stand for what the borders say: a part that entered was upstream
    before, a part that left downstream is downstream after.
    """
    sides = []
    if track.born == "entry":
        sides.append((-1, -1))
    elif _hidden_at_the_line(track):
        sides.append((-1 if track.along.speed > 0 else 1, -1))
    # What has come to rest will not show any clearer where.
    stays = len(track.sights) - 1 if track.ended == "rest" else None
    for index, sight in enumerate(track.sights):
        if abs(sight.y) > CLEARLY * math.sqrt(sight.var_y) or not sides or index == stays:
            sides.append((1 if sight.y > 0 else -1, index))
    over = track.along.speed > 0 and (
        track.ended == "exit" or _hid_over_the_line(track, interval_s)
    )
    if over:
        sides.append((1, len(track.sights)))
    return sides


def _hid_over_the_line(track: Track, interval_s: float) -> bool:
    """Whether the part went behind something in the very frame that took it over the line.

    Or out of the view sideways, if it is known to have come in as a part does.
    """
    last = track.sights[-1]
    came = track.born in ("entry", "first frame")
    went = track.ended == "hidden" or (track.ended == "side" and came)
    return went and len(track.whole) >= 3 and last.y + track.along.speed * interval_s > 0.0


def _hidden_at_the_line(track: Track) -> bool:
    """Whether the part came out from behind another one so soon after the line that it must
    have crossed it hidden.
    """
    if track.born != "beside" or len(track.whole) < 3:
        return False
    heading = 1 if track.along.speed > 0 else -1
    return 0 < heading * track.sights[0].y < HIDDEN_LENGTHS * max(track.length, 1.0)


def _settled(sides: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Drop lone excursions to the other side: amid the others they are jitter."""
    kept = list(sides)
    for place in range(1, len(sides) - 1):
        side, index = sides[place]
        if sides[place - 1][0] == sides[place + 1][0] != side:
            kept.remove((side, index))
    return kept


def _crossing(
    track: Track, at_line: tuple[float, ...], model: SpeedModel, turn: _Turn, common: float
) -> Crossing:
    """Return the crossing between two sightings.

    `at_line` are time, its sigma and speed at the line by the path of the sightings.
    """
    sights, (last, first, heading) = track.sights, turn
    inside = last >= 0 and first < len(sights)
    t_s, sigma_s, speed = at_line
    if inside and not sights[last].t_s <= t_s <= sights[first].t_s:
        t_s, sigma_s, speed = _between(sights[last], sights[first])
    near = sights[max(last - 1, 0) : first + 2]
    around = near if inside else sights
    off_px = math.sqrt(common) * _carried_px(track, model) if common else 0.0
    return Crossing(
        t_s=t_s,
        sigma_s=math.hypot(sigma_s, off_px / max(abs(speed), 1e-9)),
        direction=Direction.WITH if heading > 0 else Direction.AGAINST,
        basis=Basis.INTERPOLATED if inside else Basis.EXTRAPOLATED,
        speed=speed,
        x=float(np.interp(t_s, [s.t_s for s in around], [s.x for s in around])),
        alone=all(s.alone for s in near),
        sure=inside or (track.born == "entry" if last < 0 else track.covered == 0),
    )


def _carried_px(track: Track, model: SpeedModel) -> float:
    """Return by how much a part's centres may be off that a codec carries from frame to frame.

    That is how they scatter, and a little of the detector's own noise. What a shake, or a frame's
    own time, moves is another in each frame; and what the border cuts says nothing.
    """
    var = quantile((track.traits.way if track.whole else track.traits.way_at_all)[2])
    shape = model.sigma_shape_px**2
    return math.sqrt(shape + min(max(var - shape, 0.0), CARRIED_NOISE_PX**2))


def _between(last: Sight, first: Sight) -> tuple[float, float, float]:
    """Return time, its sigma and the speed at the line by the two sightings beside it.

    For a track that follows no law; the time lies between them, and that is all (rectangular
    distribution, JCGM 100, 4.3.7).
    """
    step = first.t_s - last.t_s
    share = last.y / (last.y - first.y)
    return last.t_s + share * step, step / math.sqrt(12.0), (first.y - last.y) / step


def _at_line_nearby(
    passed: Sequence[tuple[Track, _Turn]], model: SpeedModel
) -> list[tuple[float, ...]]:
    """Return time, its sigma and speed at the line by the sightings next to each crossing."""
    if not passed:
        return []
    near = [_next_to(track.sights, turn) for track, turn in passed]
    own = [[s for s in sights if s.whole and s.alone] or sights for sights in near]
    paths = fitted([way_of(sights) for sights in own], model, with_prior=False)
    return _at_line(paths, np.array([turn.heading for _, turn in passed]))


def _next_to(sights: list[Sight], turn: _Turn) -> list[Sight]:
    """Return the sightings around a crossing, as far as the motion keeps its direction."""
    last, first = max(turn.last, 0), min(turn.first, len(sights) - 1)
    heading = 1 if sights[first].y >= sights[last].y else -1
    low, high = last, first
    while (
        low > 0 and last - low < NEAR_SIGHTS and heading * (sights[low].y - sights[low - 1].y) > 0
    ):
        low -= 1
    end = len(sights) - 1
    while (
        high < end
        and high - first < NEAR_SIGHTS
        and heading * (sights[high + 1].y - sights[high].y) > 0
    ):
        high += 1
    return sights[low : high + 1]
