"""The scale by gravity: parts in free fall gain g each second, however many px that is."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from viscount import fall
from viscount.codes import Code
from viscount.measure.scale.budget import Budget, Input, rectangular
from viscount.measure.scale.paths import (
    Fallen,
    Floats,
    Prior,
    Shared,
    fit_paths,
    groups_of,
    own_acceleration,
)
from viscount.measure.scale.way import By, Way
from viscount.values import Level, Notice

LEAST_SIGHTS, LEAST_SHARE = 5, 0.5
"""A part tells how it is accelerated by so many whole sightings, over such a share of the way over
which the longest one was seen."""
FEWEST_SIGHTS, ENOUGH_PARTS = 3, 6
"""Parts that were seen less often, if only so many times, tell together: each by itself shows no
scatter, but how so many of them differ does."""
TURNING_SHARE: Final = 0.01
"""Standard deviation of a part's own acceleration, relative, where too few parts fell to tell: the
middle of a screw's picture is about 1 mm from its centre of mass, and goes round it with 10
radians a second (1 mm x 100 /s² is 1 % of gravity)."""
USUAL_PX, USUAL_FREEDOM = 0.05, 4
"""How far sightings usually scatter, background and compression in it, whatever a detector says of
its noise; it counts as so many degrees of freedom beside those of the paths."""
LEAST_TO_COMPARE: Final = 3
"""From so many parts on, their own accelerations tell how much they differ."""
ROUGHEST: Final = 0.2
"""Relative standard uncertainty from which on an acceleration is not known."""
MOST_PARTS: Final = 400
"""So many parts are fitted; more would say the same."""

G_SHARE: Final = 0.003
"""Half-width: gravity differs by so much from standard gravity from place to place (9.780 m/s² at
the equator, 9.832 at the poles)."""
DRAG_PER_M: Final = (0.0, 0.1)
"""Deceleration by drag over speed squared, 1/m: from none to that of an M4 washer that falls flat
(half the air's density, 1.1, over the steel's, over 0.8 mm: 0.10)."""
TILT_DEG: Final = 3.0
"""Half-width: so far a camera that was put up with care may nod along the fall."""
VIEW_OF_DISTANCE: Final = 0.6
"""Length of the whole picture along the fall over its distance: a lens of 33 degrees; most have
41 to 53 along the longer side and parts of that in the shorter."""
ROLL_DEG: Final = 3.0
"""Half-width: so far the picture's axis may be turned against the fall."""
CLOCK_SHARE, STATED_RATE_SHARE = 1e-4, 1e-3
"""Half-width: by so much a camera's clock is off, and a capture rate that a person stated (29.97
a second and the like are called 30)."""

STANDING: Final = "a pattern that stands still"
"""Input of the budget."""
STANDING_SHARE: Final = 0.5
"""Where it is so much of the whole uncertainty it is told of."""

FLAGGED, REFUSED = 2.0, 3.0
"""The acceleration changes along the view too much where it does by so many standard deviations of
what drag and a tilt explain."""
LEAST_SHAKE_PX: Final = 0.2
"""Less of a shake is lost in the paths' own scatter."""
STRAYS = 4.0
"""A part whose own acceleration is so many robust standard deviations off is no part that falls."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What is known of the fall and the camera beside the sightings.

    Attributes
    ----------
    view_px : length of the view along the fall.
    picture_px : length of the whole picture along the fall.
    line_time_s : from line to line along the fall; negative against it, 0 across or global.
    line_time_share : half-width of that, relative.
    tilt_deg : half-width of the camera's nod along the fall.
    g_mm_s2, g_share : gravity where the outlet stands, and its half-width, relative.
    shake_px : standard deviation by which whole pictures are displaced along the fall.
    rate_stated : the capture rate is a person's statement, not the file's clock.
    """

    view_px: float
    picture_px: float
    line_time_s: float = 0.0
    line_time_share: float = 0.01
    tilt_deg: float = TILT_DEG
    g_mm_s2: float = fall.STANDARD_GRAVITY_MM_S2
    g_share: float = G_SHARE
    shake_px: float = 0.0
    rate_stated: bool = False


def by_gravity(parts: Sequence[Fallen], around: Circumstances, *, source: str) -> Way:
    """Return the scale by gravity, or why there is none.

    Parameters
    ----------
    parts : single parts in free fall; those seen too little of are left out.
    """
    told = sorted(_alike(_telling(parts))[:MOST_PARTS], key=lambda part: float(part.t_s.mean()))
    if not told:
        text = f"of {len(parts)} single parts none is seen whole in {LEAST_SIGHTS} frames"
        return _refused(source, Code.ACCELERATION_UNKNOWN, text)
    start = _usual_acceleration(told)
    if not start > 0:
        text = "what moves is not accelerated with the fall"
        return _refused(source, Code.ACCELERATION_UNKNOWN, text)
    prior = _prior(start, around)
    inflation, stray = _noise(told, prior, start)
    beside = _beside(told, around)
    shared = fit_paths(told, prior, start=start, stray=stray, inflation=inflation, beside=beside)
    a = float(shared.values[0])
    refined = _prior(a, around)
    shared = fit_paths(told, refined, start=a, stray=stray, inflation=inflation, beside=beside)
    constancy = fit_paths(
        told, refined, start=a, stray=stray, inflation=inflation, beside=beside, free=True
    )
    return _way(told, shared, constancy, refined, around, source)


def _way(
    told: Sequence[Fallen],
    shared: Shared,
    constancy: Shared,
    prior: Prior,
    around: Circumstances,
    source: str,
) -> Way:
    value = float(shared.values[0]) / around.g_mm_s2
    notice, refused = _changes(told, constancy, prior, around)
    budget = _budget(told, shared, around)
    standing = _standing(budget)
    if budget.u > ROUGHEST:
        text = f"the acceleration is known to {200 * budget.u:.0f} % only"
        unknown = _refused(source, Code.ACCELERATION_UNKNOWN, text)
        return unknown if standing is None else doubted(unknown, standing)
    budget = budget.scaled(value)
    notices = tuple(one for one in (notice, standing) if one is not None)
    parts = "1 part gains" if len(told) == 1 else f"{len(told)} parts gain"
    return Way(
        by=By.GRAVITY,
        source=source,
        value=None if refused else value,
        budget=budget,
        what=f"{parts} {shared.values[0]:.5g} px/s each second",
        change=float(shared.values[2]) * around.view_px,
        change_u=float(np.sqrt(shared.covariance[2, 2])) * around.view_px,
        notices=notices,
    )


def _budget(told: Sequence[Fallen], shared: Shared, around: Circumstances) -> Budget:
    """Return the inputs, each as a share of the scale."""
    a = float(shared.values[0])
    by_drag, by_tilt = (abs(float(shared.by_prior[j, 0])) / a for j in (1, 2))
    # The acceleration's own c and k are in px: a wrong scale there is of second order.
    by_standing = math.sqrt(max(float(shared.by_standing[0, 0]), 0.0)) / a
    beside = by_drag**2 + by_tilt**2 + by_standing**2
    rest = max(float(shared.covariance[0, 0]) / a**2 - beside, 0.0)
    groups = groups_of(len(told), _beside(told, around))
    few = len(told) < LEAST_TO_COMPARE
    freedom = USUAL_FREEDOM + _freedom(told) if few else groups - 1
    clock = STATED_RATE_SHARE if around.rate_stated else CLOCK_SHARE
    speed = float(np.median([_middle_speed(part) for part in told]))
    pace = speed * around.line_time_s
    shutter = abs(3.0 * pace / max(1.0 - pace, 0.1)) * around.line_time_share
    roll = 1.0 - math.cos(math.radians(ROLL_DEG))
    turning = TURNING_SHARE / math.sqrt(len(told)) if few else 0.0
    return Budget(
        inputs=(
            Input(name="scatter of the paths", u=math.sqrt(rest), freedom=freedom),
            Input(name=STANDING, u=by_standing),
            Input(name="turning of so few parts", u=turning),
            Input(name="drag", u=by_drag),
            Input(name="tilt and perspective", u=by_tilt),
            Input(name="local gravity", u=rectangular(around.g_share)),
            Input(name="clock", u=rectangular(2.0 * clock)),
            Input(name="line time", u=rectangular(shutter)),
            Input(name="roll", u=rectangular(roll)),
        )
    )


def _changes(
    told: Sequence[Fallen], constancy: Shared, prior: Prior, around: Circumstances
) -> tuple[Notice | None, bool]:
    """Tell whether the acceleration changes along the way by more than drag and a tilt explain.

    By ``3 k - 2 c`` for each px (see `paths`): with the fall the square of the speed grows by
    2 A, and px lengthen. Returns what there is to say, and whether it is too much for a scale.
    """
    slope = 3.0 * float(constancy.values[2]) - 2.0 * float(constancy.values[1])
    own = 3.0 * float(np.sqrt(constancy.covariance[2, 2]))
    expected = 3.0 * prior.growth_per_px - 2.0 * prior.drag_per_px
    allowed = math.hypot(3.0 * prior.growth_u, 2.0 * prior.drag_u)
    off = abs(slope - expected)
    if off <= FLAGGED * math.hypot(allowed, own):
        return None, False
    refused = off > REFUSED * allowed and off > FLAGGED * math.hypot(allowed, own)
    way = max(float(p.y_px.max()) for p in told) - min(float(p.y_px.min()) for p in told)
    percent = 100.0 * way
    text = (
        f"the acceleration changes by {percent * slope:+.0f} ± {percent * 2 * own:.0f} % over the "
        f"{way:.0f} px in which parts were seen; drag and a tilt of {around.tilt_deg:g} degrees "
        f"explain {percent * expected:+.1f} ± {percent * 2 * allowed:.0f} %"
    )
    level = Level.INVALID if refused else Level.DOUBT
    return Notice(level=level, code=Code.ACCELERATION_VARIES, text=text), refused


def _standing(budget: Budget) -> Notice | None:
    """Say that the stream itself makes the scale unsure; `budget` in shares of the scale."""
    (own,) = (one.u for one in budget.inputs if one.name == STANDING)
    if own <= STANDING_SHARE * budget.u:
        return None
    text = (
        "each part is where the one before it was a frame ago, to a few px: what a compressed "
        f"picture is off there is the same for all, and may be ± {200.0 * own:.0f} % of the scale"
    )
    return Notice(level=Level.DOUBT, code=Code.PATTERN_STANDS, text=text)


def _prior(a: float, around: Circumstances) -> Prior:
    """Return what drag and tilt may do, in px."""
    low, high = DRAG_PER_M
    mm_per_px = around.g_mm_s2 / a
    # dy/dz of a plane that nods by q, D away: 1 - 2 q z / D.
    tilt = math.sin(math.radians(rectangular(around.tilt_deg)))
    growth = 2.0 * tilt * VIEW_OF_DISTANCE / around.picture_px
    return Prior(
        drag_per_px=0.5 * (low + high) * 1e-3 * mm_per_px,
        drag_u=rectangular(0.5 * (high - low)) * 1e-3 * mm_per_px,
        growth_per_px=0.0,
        growth_u=max(growth, 1e-9),
    )


def _noise(told: Sequence[Fallen], prior: Prior, start: float) -> tuple[float, float]:
    """Return by how much sightings scatter more (or less) than they say, and how much parts'
    own accelerations stray (Paule and Mandel, J. Res. NBS 87 (1982) 377).

    The first is drawn to what is usual, which matters where paths are short (the mean of an inverse
    chi squared prior: A. Gelman et al., Bayesian Data Analysis, 2.6).
    """
    apart = fit_paths(told, prior, start=start, stray=0.3 * start)
    said = float(np.median(np.concatenate([part.sigma_px for part in told])))
    usual = USUAL_FREEDOM * (USUAL_PX / said) ** 2
    inflation = math.sqrt((usual + apart.chi2) / (USUAL_FREEDOM + _freedom(told)))
    if len(told) < LEAST_TO_COMPARE:
        return inflation, 0.0
    own = np.array([own_acceleration(part) for part in told])
    values, variances = own[:, 0], (inflation * own[:, 1]) ** 2
    low, high = 0.0, float(np.var(values)) + 1e-12
    for _ in range(40):
        middle = 0.5 * (low + high)
        weights = 1.0 / (variances + middle)
        mean = float(weights @ values / weights.sum())
        if float(weights @ (values - mean) ** 2) > len(told) - 1:
            low = middle
        else:
            high = middle
    return inflation, math.sqrt(0.5 * (low + high))


def _freedom(told: Sequence[Fallen]) -> int:
    """Return how many sightings there are beyond those that a path of its own takes."""
    return sum(len(part) - 3 for part in told)


def _telling(parts: Sequence[Fallen]) -> list[Fallen]:
    """Return the parts that were seen often enough, over a long enough way."""
    often = _seen(parts, LEAST_SIGHTS)
    if len(often) >= ENOUGH_PARTS:
        return often
    seldom = _seen(parts, FEWEST_SIGHTS)
    return seldom if len(seldom) >= ENOUGH_PARTS else often


def _seen(parts: Sequence[Fallen], sights: int) -> list[Fallen]:
    """Return the parts that were seen so often, over most of the way of the longest one."""
    seen = [p for p in parts if len(p) >= sights and float(np.ptp(p.t_s)) > 0]
    longest = max((float(np.ptp(p.y_px)) for p in seen), default=0.0)
    return [p for p in seen if float(np.ptp(p.y_px)) >= max(LEAST_SHARE * longest, 1.0)]


def _beside(parts: Sequence[Fallen], around: Circumstances) -> int:
    """Return how many parts are in view together, and so share a shake; 1 without one."""
    if len(parts) < 2 or around.shake_px < LEAST_SHAKE_PX:
        return 1
    times = np.array([float(part.t_s.mean()) for part in parts])
    seen_s = float(np.median([float(np.ptp(part.t_s)) for part in parts]))
    return 1 + math.ceil(seen_s / max(float(np.median(np.diff(times))), 1e-6))


def _alike(parts: Sequence[Fallen]) -> list[Fallen]:
    """Leave out what is accelerated otherwise than the rest: pieces, dust, wrong links."""
    if len(parts) < 3:
        return list(parts)
    own = np.array([own_acceleration(part) for part in parts])
    usual = float(np.median(own[:, 0]))
    spread = 1.4826 * float(np.median(np.abs(own[:, 0] - usual)))
    allowed = STRAYS * np.hypot(spread, own[:, 1])
    return [
        p for p, (a, _), most in zip(parts, own, allowed, strict=True) if abs(a - usual) <= most
    ]


def _usual_acceleration(parts: Sequence[Fallen]) -> float:
    own: Floats = np.array([own_acceleration(part) for part in parts])
    weights = 1.0 / own[:, 1] ** 2
    return float(weights @ own[:, 0] / weights.sum())


def _middle_speed(part: Fallen) -> float:
    return float(np.ptp(part.y_px) / np.ptp(part.t_s))


def _refused(source: str, code: Code, text: str) -> Way:
    notice = Notice(level=Level.INVALID, code=code, text=text)
    return Way(
        by=By.GRAVITY,
        source=source,
        value=None,
        budget=Budget(inputs=()),
        what="nothing",
        notices=(notice,),
    )


def doubted(way: Way, notice: Notice) -> Way:
    """Return the same way with one thing more to say."""
    return replace(way, notices=(*way.notices, notice))
