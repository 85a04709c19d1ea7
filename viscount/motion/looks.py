"""How large the parts of a pour are, without what exposure and readout add to them.

A part that moves by b while a frame is exposed shows b more of itself along the fall, less what
is fainter than the detector's threshold at either end; a rolling shutter along the fall shows it
longer by 1/(1 - v x line time) (averaging a moving outline over the exposure; the line that
overtakes it).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.motion import pieces
from viscount.motion.sight import Sight
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.spread import quantile, robust_sd
from viscount.motion.track import Track

Floats = NDArray[np.float64]

SHOWN_SMEAR, SHOWN_SIGMA = 0.85, 0.2
"""Share of a smear that stands above the threshold, and its uncertainty: faint parts show less."""
USUAL_EXPOSURE_S, LEAST_SIGMA_S = 1e-4, 3e-5
"""Exposures that nobody stated and no part shows are about so long; and how well parts show one
at best."""
LEAST_LEFT = 0.3
"""No smear is thought to be more than the rest of what is seen."""
LEAST_WHOLE = 2
"""A part's size is that of so many whole sightings at least."""
LEAST_SIGHTS, LEAST_TRACKS, LEAST_RANGE = 4, 5, 0.1
"""How parts grow with their speed is told by so many tracks of so many whole sightings, over
which they grow faster by this share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """By how much a part is seen longer for each px/s of its speed, with its uncertainty, in s.

    That is the exposure, less what stays below the threshold; `exposure_s` is without that loss.
    """

    s: float
    sigma_s: float
    exposure_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One part as it is seen: medians over its whole sightings, readout corrected for.

    Attributes
    ----------
    length, area : px along the fall and px², with what the exposure adds.
    var_along, var_across : second central moments of what the part covers, px².
    speed : px/s, at these sightings.
    """

    length: float
    area: float
    var_along: float
    var_across: float
    speed: float

    @property
    def gyration(self) -> float:
        """Radius of gyration in the plane of the picture: root mean square distance from the
        middle. Light, threshold and the turn in that plane hardly change it."""
        return math.sqrt(self.var_along + self.var_across)

    def sharp(self, growth: Growth) -> "Look":
        """Return the look without what the exposure adds.

        A part that moves by b while it is exposed has b²/12 more second moment along the fall.
        """
        length = max(self.length - growth.s * self.speed, LEAST_LEFT * self.length)
        moved = (growth.exposure_s * self.speed) ** 2 / 12.0
        return Look(
            length=length,
            area=self.area * length / self.length,
            var_along=max(self.var_along - moved, LEAST_LEFT * self.var_along),
            var_across=self.var_across,
            speed=self.speed,
        )


def look_of(track: Track, model: SpeedModel, line_time_along_s: float) -> Look | None:
    """Return how a track's part looks, or None where it was too seldom seen whole."""
    whole = track.whole
    if len(whole) < LEAST_WHOLE:
        return None
    speeds = speeds_of(whole, model)
    # A readout that keeps pace with the part shows anything; below this it is refused elsewhere.
    shrink = np.maximum(1.0 - speeds * line_time_along_s, 0.2)
    table = np.array([(s.length, s.area, s.var_along, s.var_across) for s in whole])
    length, area, along, across = table.T
    return Look(
        length=quantile(length * shrink),
        area=quantile(area * shrink),
        var_along=quantile(along * shrink**2),
        var_across=quantile(across),
        speed=quantile(speeds),
    )


def looks_of(
    tracks: Sequence[Track], model: SpeedModel, prior: MotionPrior
) -> list[tuple[Track, Look]]:
    """Return the looks of parts; the pieces of one part count as one where its length is known."""
    found = [(t, look_of(t, model, prior.line_time_along_s)) for t in tracks]
    seen = [(track, look) for track, look in found if look is not None]
    if prior.part_length_px is None:
        return seen
    pairs = pieces.rigid_pairs(list(tracks))
    kept = {id(track) for track in pieces.joined(list(tracks), pairs, prior.part_length_px)}
    looks = {id(track): look for track, look in seen}
    for pair in pairs:
        upper, lower = looks.get(id(pair.upper)), looks.get(id(pair.lower))
        if id(pair.upper) not in kept and upper is not None and lower is not None:
            looks[id(pair.lower)] = _whole(upper, lower, pair.length)
    return [(track, looks[id(track)]) for track, _ in seen if id(track) in kept]


def _whole(upper: Look, lower: Look, length: float) -> Look:
    """Return the look of a part of two pieces (the moments by the theorem of parallel axes)."""
    area = upper.area + lower.area
    shares = upper.area / area, lower.area / area
    apart = length - 0.5 * (upper.length + lower.length)
    along = shares[0] * upper.var_along + shares[1] * lower.var_along
    return Look(
        length=length,
        area=area,
        var_along=along + shares[0] * shares[1] * apart**2,
        var_across=shares[0] * upper.var_across + shares[1] * lower.var_across,
        speed=lower.speed,
    )


def stated_growth(exposure_s: float) -> Growth:
    """Return how parts grow with their speed by the stated exposure; 0.0 where none is."""
    if exposure_s <= 0.0:
        return Growth(s=0.0, sigma_s=USUAL_EXPOSURE_S, exposure_s=0.0)
    own, sigma = SHOWN_SMEAR * exposure_s, SHOWN_SIGMA * exposure_s
    return Growth(s=own, sigma_s=sigma, exposure_s=exposure_s)


def growth_of(
    tracks: Sequence[Track], model: SpeedModel, prior: MotionPrior, *, limited: bool = True
) -> Growth:
    """Return how parts grow with their speed as they show it, else as is stated.

    Parts that turn as they fall grow or shrink by themselves; that is in the uncertainty, and a
    stated exposure limits it. But a camera may lengthen its exposure in a faint light: where it
    is not `limited`, what the parts show is believed alone.
    """
    slopes = [
        slope
        for track in tracks
        if (slope := _slope(track.whole, model, prior.line_time_along_s)) is not None
    ]
    if len(slopes) < LEAST_TRACKS:
        return stated_growth(prior.exposure_s)
    told_s = prior.exposure_s if limited else 0.0
    most = told_s if told_s > 0.0 else (model.interval_s or np.inf)
    sigma = max(robust_sd(np.array(slopes)) / len(slopes) ** 0.5, LEAST_SIGMA_S)
    own = float(np.clip(quantile(slopes), 0.0, most))
    return Growth(s=own, sigma_s=sigma, exposure_s=told_s or own / SHOWN_SMEAR)


def speeds_of(sights: Sequence[Sight], model: SpeedModel) -> Floats:
    """Return the speeds (n,) along the fall at sightings, in px/s."""
    return model.speed_at(np.array([s.t_s for s in sights]), np.array([s.y for s in sights]))


def _slope(whole: Sequence[Sight], model: SpeedModel, line_time_along_s: float) -> float | None:
    """Return by how much one part's length grows with its speed, in s."""
    if len(whole) < LEAST_SIGHTS:
        return None
    speeds = speeds_of(whole, model)
    if np.ptp(speeds) <= LEAST_RANGE * quantile(speeds):
        return None
    lengths = np.array([s.length for s in whole]) * np.maximum(
        1.0 - speeds * line_time_along_s, 0.2
    )
    away = speeds - speeds.mean()
    return float(away @ (lengths - lengths.mean()) / (away @ away))
