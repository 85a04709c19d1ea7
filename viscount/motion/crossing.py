"""Where and when a track crosses the counting line.

A crossing is decided between sightings, never by one: the part was clearly upstream, and is
clearly downstream now (or the reverse). A single sighting on the other side amid others is
jitter. The time comes from the path fitted to the sightings around the crossing.
"""

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

import numpy as np
from numpy.typing import NDArray

from viscount.motion.speed import SpeedModel
from viscount.motion.track import Sight, Track
from viscount.values import Basis, Direction

Floats = NDArray[np.float64]

CLEARLY = 3.0
"""A place is clearly on one side of the line beyond this many sigma."""
HIDDEN_LENGTHS = 1.0
"""A part may have crossed the line hidden if it came out within this many of its lengths."""
NEAR_SIGHTS = 5
"""Sightings on each side of a crossing that its time is fitted to when the whole path does
not follow the law (a bounce, a change of light)."""


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


def crossed(tracks: list[Track], model: SpeedModel, common: float = 0.0) -> list[Crossed]:
    """Find the crossings of each track.

    `common` is the share of the variance of a part's centres that all its sightings have in
    common (see `Geometry`).
    """
    return [Crossed(track=t, crossings=crossings(t, model, common)) for t in tracks]


def crossings(track: Track, model: SpeedModel, common: float = 0.0) -> list[Crossing]:
    """Return the crossings of a track in order of time."""
    sides = _settled(_sides(track, model.interval_s))
    found = []
    for (before, last), (after, first) in pairwise(sides):
        if before != after:
            crossing = _crossing(track, model, last, first, after)
            var_y = median(sight.var_y for sight in track.sights)
            off_s = math.sqrt(common * var_y) / max(abs(crossing.speed), 1e-9)
            found.append(replace(crossing, sigma_s=math.hypot(crossing.sigma_s, off_s)))
    return found


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
    for index, sight in enumerate(track.sights):
        if abs(sight.y) > CLEARLY * np.sqrt(sight.var_y) or not sides:
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


def _crossing(track: Track, model: SpeedModel, last: int, first: int, after: int) -> Crossing:
    sights = track.sights
    inside = last >= 0 and first < len(sights)
    path = fitted_path(track, model, last, first)
    t_s, sigma_s, speed = path.at_line(after)
    if inside and not sights[last].t_s <= t_s <= sights[first].t_s:
        t_s, sigma_s, speed = _between(sights[last], sights[first])
    near = sights[max(last - 1, 0) : first + 2]
    return Crossing(
        t_s=t_s,
        sigma_s=sigma_s,
        direction=Direction.WITH if after > 0 else Direction.AGAINST,
        basis=Basis.INTERPOLATED if inside else Basis.EXTRAPOLATED,
        speed=speed,
        x=float(np.interp(t_s, [s.t_s for s in sights], [s.x for s in sights])),
        alone=all(s.alone for s in near),
        sure=inside or (track.born == "entry" if last < 0 else track.covered == 0),
    )


def _between(last: Sight, first: Sight) -> tuple[float, float, float]:
    """Return time, its sigma and the speed at the line by the two sightings beside it.

    For a track that follows no law; the time lies between them, and that is all (rectangular
    distribution, JCGM 100, 4.3.7).
    """
    step = first.t_s - last.t_s
    share = last.y / (last.y - first.y)
    return last.t_s + share * step, step / np.sqrt(12.0), (first.y - last.y) / step


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """Place and speed at a moment, with covariance, under one acceleration."""

    t_s: float
    y: float
    speed: float
    covariance: Floats
    acceleration: float

    def at_line(self, heading: int) -> tuple[float, float, float]:
        """Return time, its sigma and the speed at the line.

        Of the two moments at which a thrown body passes a height, the one on which it moves
        in the direction of `heading`.
        """
        square = self.speed**2 - 2 * self.acceleration * self.y
        at_line = heading * float(np.sqrt(max(square, 0.0)))
        total = at_line + self.speed
        if abs(self.acceleration) < 1e-9 or abs(total) > 1e-6 * abs(at_line) + 1e-9:
            tau = -2 * self.y / total if total else 0.0
        else:
            tau = (at_line - self.speed) / self.acceleration
        slope = max(abs(at_line), 1e-9)
        # y + v τ + a τ²/2 = 0  →  ∂τ/∂y = −1/v_line, ∂τ/∂v = −τ/v_line
        gradient = np.array([-1.0 / slope, -tau / slope])
        variance = float(gradient @ self.covariance @ gradient)
        return self.t_s + tau, float(np.sqrt(max(variance, 0.0))), at_line


def fitted_path(track: Track, model: SpeedModel, last: int, first: int) -> Path:
    """Fit the law to the sightings around a crossing.

    The whole track where it follows the law, else only the sightings next to the crossing.
    """
    use = track.whole or track.sights
    entering = track.born == "entry"
    path, misfit = fit(use, model, with_prior=entering)
    if misfit > 4.0 and len(track.sights) > 4:
        near = _next_to(track.sights, max(last, 0), min(first, len(track.sights) - 1))
        whole = [s for s in near if s.whole and s.alone] or near
        path, misfit = fit(whole, model, with_prior=False)
    return path


def _next_to(sights: list[Sight], last: int, first: int) -> list[Sight]:
    """Return the sightings around a crossing, as far as the motion keeps its direction."""
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


def fit(sights: list[Sight], model: SpeedModel, *, with_prior: bool) -> tuple[Path, float]:
    """Fit place and speed by weighted least squares; return the path and chi² per freedom.

    The covariance is widened by chi² where that is clearly above 1 (Birge ratio). With
    `with_prior` the speed model takes part as one more observation.
    """
    t, y, var = np.array([(s.t_s, s.y, s.var_y) for s in sights]).T
    weight = 1.0 / var
    t0 = float(t.sum()) / t.size
    a = model.acceleration
    dt = t - t0
    flat = y - 0.5 * a * dt * dt
    prior_speed, sigma = model.speed_and_sigma_at(t0, float(flat.sum()) / flat.size)
    if not with_prior:
        sigma = 10 * max(sigma, prior_speed)
    # The two normal equations, solved in closed form.
    w, wt, wtt = float(weight.sum()), float(weight @ dt), float(weight @ (dt * dt)) + sigma**-2
    wy, wty = float(weight @ flat), float(weight @ (flat * dt)) + prior_speed * sigma**-2
    det = w * wtt - wt * wt
    place, speed = (wtt * wy - wt * wty) / det, (w * wty - wt * wy) / det
    residual = flat - place - speed * dt
    freedom = max(len(sights) - (1 if with_prior else 2), 1)
    misfit = float(weight @ (residual * residual)) / freedom
    # chi² scatters by sqrt(2 / freedom) of itself: only beyond twice that it says something.
    usual = 1.0 + 2.0 * math.sqrt(2.0 / freedom)
    widen = max(misfit / usual, 1.0)
    covariance = np.array([[wtt, -wt], [-wt, w]]) * (widen / det)
    covariance[0, 0] += model.sigma_shake_px**2 / t.size
    return Path(t_s=t0, y=place, speed=speed, covariance=covariance, acceleration=a), misfit
