"""What a pour teaches about its own motion: first from pairs of blobs, then from tracks."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest

import numpy as np
from numpy.typing import NDArray

from viscount.motion import votes
from viscount.motion.accelerations import stray, with_acceleration
from viscount.motion.detections import Detections
from viscount.motion.geometry import Geometry
from viscount.motion.resting import moving
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.speeds import LEAST_SPREAD, with_speeds, with_speeds_by_two
from viscount.motion.spread import wide_spread
from viscount.motion.track import Track
from viscount.motion.votes import SPECK_SHARE

Floats = NDArray[np.float64]

FRAMES_PER_WINDOW = 5
MAX_WINDOWS = 64
MIN_SUPPORT = 0.4
TWICE_SHARE = 0.2
"""Beside so many parts that were seen whole more often, those seen twice say how fast they are."""
LATEST = 24
"""So many parts, the latest, teach a live run."""
QUICK = 6
"""So many accelerations, about, where there is no time to look at all."""
DRIFT_SHARE = 0.2
"""What moves at less than this share of the parts' speed drifts: dust, an insect."""
LESSER_SHARE = 0.3
"""What is below this share of a part's area and keeps its place is none."""
ABOVE_SHARE = 0.2
"""Where a model has no part, one would move at this share of the speed at the line."""
LEAST_ADVANCE_PX = 3.0
"""Below that noise may seem to hold a part up."""
FIRST_SPREAD = 0.03
FILLED, OWN_SPREAD = 0.6, 0.3
"""An even spread over the votes' band would come to 0.74 of it, by the median."""
NEIGHBOUR_SHARE = 0.125
"""A prediction may stray by this share of the distance to the next part."""
PLAIN_SHARE = 0.35
"""Below this share of the spacing, a step from frame to frame leaves no choice of partner."""
RIVAL_SIGNIFICANCE = 0.5
"""Even so, another speed that stands out this much beside it is followed too: in an even
stream a part that seems to move little may be its successor."""
LEAST_FALLEN = 0.93
"""A part may be so much slower than what fell freely from rest: drag, and a lip not quite there."""
PRIOR_SPREAD = 0.5
"""A stated tolerance is taken as two standard deviations."""


def first_models(
    frames: list[Detections], geometry: Geometry, prior: MotionPrior, *, quick: bool = False
) -> list[SpeedModel]:
    """Learn speed and acceleration from the pairs of blobs.

    Returns one model for each speed that explains the pairs, the likeliest first; one that is
    marked as not learned where the pairs say nothing. `quick` looks at fewer accelerations, and
    leaves it to the tracks to find the true one.
    """
    interval = _interval(frames)
    busy = [frame for frame in frames if len(frame)]
    if not busy:
        return [_unlearned(geometry, interval, prior)]
    area = votes.usual_area(busy)
    # A background that creeps along shows many small regions, and their pairs would drown all.
    frames = moving(frames, LESSER_SHARE * area)
    busy = [frame for frame in frames if len(frame)]
    # Dust may be in view for long before the pour and after it.
    busy = [frame for frame in busy if not votes.specks(frame.area, area).all()]
    census = votes.census_of(frames, geometry, area)
    if not census.t.size:
        return [_unlearned(geometry, interval, prior)]
    widths = np.concatenate([frame.high - frame.low for frame in busy])
    pairs = votes.pairs_of(frames, max(6.0, 0.6 * float(np.median(widths))), area)
    grid = votes.speed_grid(geometry, interval, _limits(prior))
    windows = int(np.clip(len(busy) // FRAMES_PER_WINDOW, 1, MAX_WINDOWS))
    ballot = votes.Ballot(pairs, census, grid, windows)
    accelerations = _accelerations(geometry, prior, interval)
    if quick:
        accelerations = accelerations[:: max(1, len(accelerations) // QUICK)]
    candidates = [one for a in accelerations for one in ballot.explanations(a)]
    chosen = votes.shortlist(candidates)
    if prior.acceleration_px_s2 is None and not quick:
        steady = votes.shortlist([one for one in candidates if one.acceleration == 0.0])
        chosen = _in_turn([ballot.sharpened(one) for one in chosen], steady)
    spacing = _spacing(busy, geometry.bottom - geometry.top)
    seen = _with_shape(_unlearned(geometry, interval, prior), busy, area)
    length = seen.ahead_px + seen.behind_px
    if chosen and _plain(chosen[0], spacing, interval):
        least = RIVAL_SIGNIFICANCE * chosen[0].significance
        chosen = [one for one in chosen if one.significance >= least]
    models = [
        replace(
            seen,
            t_s=one.t_s + votes.lead_s(pairs, one),
            speed=one.speed,
            spread=_first_spread(votes.scatter(pairs, one), one, length, interval),
            acceleration=one.acceleration,
            sigma_acceleration=_looseness(one, geometry, spacing, interval),
            learned=True,
            stated=False,
        )
        for one in chosen
        if one.support >= MIN_SUPPORT
    ]
    if models:
        return models
    # What stands still expects votes and never finds them.
    passing = moving(frames)
    if sum(map(len, passing)) == sum(map(len, frames)):
        return [seen]
    found = first_models(passing, geometry, prior, quick=quick)
    return [one for one in found if one.learned] + [seen]


def _in_turn(
    ones: list[votes.Explanation], others: list[votes.Explanation]
) -> list[votes.Explanation]:
    """Return the explanations of both lists in turn, the best of each first, none twice."""
    found: list[votes.Explanation] = []
    for one in (one for pair in zip_longest(ones, others) for one in pair if one is not None):
        if all(one.unlike(two) or one.acceleration != two.acceleration for two in found):
            found.append(one)
    return found


def _with_shape(model: SpeedModel, frames: list[Detections], area: float) -> SpeedModel:
    """Return the model with the usual `area` and how far a part of that size reaches.

    By the median of whole blobs that are no specks.
    """
    use = [~f.cut & (f.area > SPECK_SHARE * area) for f in frames]
    ends = [np.stack([f.head - f.y, f.y - f.tail, f.breadth]) for f in frames]
    ahead, behind, breadth = np.concatenate(
        [own[:, ok] for own, ok in zip(ends, use, strict=True)], axis=1
    )
    if not ahead.size:
        return replace(model, area_px=area)
    return replace(
        model,
        area_px=area,
        ahead_px=float(np.median(ahead)),
        behind_px=float(np.median(behind)),
        sigma_end_px=max(wide_spread(ahead), wide_spread(behind)),
        breadth_px=float(np.median(breadth)),
    )


def _plain(one: votes.Explanation, spacing: float, interval: float) -> bool:
    """Whether parts move so little between frames that none can be taken for its neighbour."""
    return float(np.median(one.speed)) * interval < PLAIN_SHARE * spacing


def _first_spread(
    scatter: float, one: votes.Explanation, length_px: float, interval: float
) -> float:
    """Return how far a part's speed may be off, as a share, before parts have taught it.

    Votes that fill the whole band about a speed say only that the scatter is no less. Parts that
    cover from frame to frame most of where they were cannot be taken for others, so each may
    have a speed of its own: cars, or what lies on a belt.
    """
    covering = float(np.median(one.speed)) * interval < PLAIN_SHARE * length_px
    if covering and scatter > FILLED * votes.NEAR:
        return OWN_SPREAD
    return max(1.5 * scatter, FIRST_SPREAD)


def refined_model(tracks: list[Track], model: SpeedModel, prior: MotionPrior) -> SpeedModel:
    """Learn speed along the pour, acceleration and scatter from whole tracks."""
    taught = good(tracks, model)
    if len(taught) < 3:
        # Where no speed is stated either, two sightings each may be linked in many ways.
        stated = prior.speed_px_s is not None
        return with_speeds_by_two(late(tracks, [], model), model) if stated else model
    model = with_accelerations(taught, model, prior)
    return with_speeds(taught, model, late(tracks, taught, model))


def with_accelerations(taught: list[Track], model: SpeedModel, prior: MotionPrior) -> SpeedModel:
    """Learn the acceleration, where it is not known, and how far parts stray from it."""
    if prior.acceleration_px_s2 is None or not prior.sure:
        model = with_acceleration(taught, model, free=not prior.falling)
    return replace(model, sigma_acceleration=stray(taught, model))


def good(tracks: Sequence[Track], model: SpeedModel) -> list[Track]:
    """Return the tracks that can teach how parts move: specks and what drifts do not."""
    return _falling(_followed(tracks), model)


def latest_good(tracks: Sequence[Track], model: SpeedModel) -> list[Track]:
    """Return the latest of these, no more than teach a live run."""
    followed = _followed(tracks)
    found = _falling(followed[-LATEST:], model)
    # Where all of these fall there is no need to look at more.
    return found if len(found) == LATEST else _falling(followed, model)[-LATEST:]


def _followed(tracks: Sequence[Track]) -> list[Track]:
    return [track for track in tracks if track.born != "midway" and len(track.whole) >= 3]


def late(tracks: Sequence[Track], taught: list[Track], model: SpeedModel) -> list[Track]:
    """Return the tracks that came in and were seen whole twice, unless they are few beside others.

    Along a column parts grow faster, and the last of them may be seen no more often.
    """
    few = TWICE_SHARE * len(taught)
    twice = [t for t in tracks if len(t.whole) == 2 and t.born == "entry"]
    twice = _falling(twice, model) if len(twice) > few else []
    return twice if len(twice) > few else []


def _falling(tracks: list[Track], model: SpeedModel) -> list[Track]:
    if not tracks:
        return []
    rows = [(t.t_s, t.along.place, t.along.speed, t.area) for t in tracks]
    t_s, place, speed, area = np.array(rows).T
    if model.learned:
        ways = [track.traits.way for track in tracks]
        seen_s, y, _ = np.concatenate(ways, axis=1)
        # Of where they are and of where they were seen at once.
        foreseen = model.speed_at(np.concatenate([t_s, seen_s]), np.concatenate([place, y]))
        now, then = np.split(foreseen, [len(tracks)])
        falls = (area >= SPECK_SHARE * model.area_px) & (speed > DRIFT_SHARE * now)
        falls &= ~_stopped(ways, then, model)
    else:
        falls = (speed > 0.0) & ~votes.specks(area, model.area_px)
    return [track for track, ok in zip(tracks, falls.tolist(), strict=True) if ok]


def _stopped(ways: list[Floats], foreseen: Floats, model: SpeedModel) -> NDArray[np.bool_]:
    """Return whether each of the ways stands still, or turns back; it would outweigh others.

    `foreseen` are the speeds that parts have where they were seen, of all ways one after another.
    """
    whose = np.repeat(np.arange(len(ways)), [way.shape[1] for way in ways])
    t_s, y, _ = np.concatenate(ways, axis=1)
    # From the sighting before each to the one after it, where both are the same track's.
    speed = foreseen[1:-1]
    # Above the place from which parts would fall none is, as far as the model goes.
    speed = np.where(speed > 0.0, speed, ABOVE_SHARE * model.usual_speed)
    usual = speed * (t_s[2:] - t_s[:-2])
    slow = (y[2:] - y[:-2] < DRIFT_SHARE * usual) & (usual > LEAST_ADVANCE_PX)
    slow &= whose[2:] == whose[:-2]
    return np.bincount(whose[1:-1][slow], minlength=len(ways)) > 0


def _accelerations(geometry: Geometry, prior: MotionPrior, interval: float) -> list[float]:
    if prior.acceleration_px_s2 is not None:
        return [prior.acceleration_px_s2]
    # From the slowest fall that 200 frames would show to the fastest that two would.
    scale = (geometry.bottom - geometry.top) / interval**2
    falls = list(np.geomspace(5e-5, 0.5, 24) * scale)
    return falls if prior.falling else [0.0, *falls]


def _limits(prior: MotionPrior) -> tuple[float | None, float | None]:
    """Return the least and the greatest speed at the line that is looked for, None for any."""
    if prior.speed_px_s is None:
        least = prior.least_speed_px_s
        return None if least is None else LEAST_FALLEN * least, None
    half = max(prior.speed_tolerance, 0.02)
    return prior.speed_px_s * (1 - half), prior.speed_px_s * (1 + half)


def _unlearned(geometry: Geometry, interval: float, prior: MotionPrior) -> SpeedModel:
    """Return what is known without the clip: what the outlet file says, or next to nothing."""
    view = geometry.bottom - geometry.top
    known = prior.speed_px_s is not None
    speed = prior.speed_px_s if prior.speed_px_s is not None else view / (12 * interval)
    return SpeedModel(
        t_s=np.array([0.0]),
        speed=np.array([speed]),
        # A file may allow no tolerance at all; parts differ by a little nevertheless.
        spread=max(PRIOR_SPREAD * prior.speed_tolerance, LEAST_SPREAD) if known else 0.7,
        acceleration=prior.acceleration_px_s2 or 0.0,
        sigma_acceleration=0.3 * speed**2 / view,
        interval_s=interval,
        learned=False,
        stated=known,
    )


def _looseness(
    one: votes.Explanation, geometry: Geometry, spacing: float, interval: float
) -> float:
    """Return how far single parts may be let stray, px/s²: as far as neighbours allow."""
    speed = float(np.median(one.speed))
    wanted = 0.3 * speed**2 / (geometry.bottom - geometry.top) + 0.2 * one.acceleration
    least = 0.03 * one.acceleration + 1e-3
    allowed = NEIGHBOUR_SHARE * spacing * 2.0 / interval**2
    return float(np.clip(wanted, least, max(allowed, least)))


def _spacing(frames: list[Detections], view: float) -> float:
    """Return a low percentile of the distance along the fall between neighbours in one lane."""
    gaps = []
    for frame in frames:
        if len(frame) > 1:
            distance = np.hypot(
                frame.y[:, None] - frame.y[None, :], 2.0 * (frame.x[:, None] - frame.x[None, :])
            )
            np.fill_diagonal(distance, np.inf)
            gaps.append(distance.min(axis=1))
    return float(np.percentile(np.concatenate(gaps), 10)) if gaps else view


def _interval(frames: list[Detections]) -> float:
    times = np.array([frame.t_s for frame in frames])
    steps = np.diff(times)
    return float(np.median(steps[steps > 0])) if (steps > 0).any() else 1.0
