"""How fast parts gain speed, by the tracks with enough sightings, and how far each strays."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from viscount.motion.speed import SpeedModel
from viscount.motion.spread import robust_sd
from viscount.motion.track import Track

Floats = NDArray[np.float64]


def agrees(tracks: list[Track], model: SpeedModel) -> bool:
    """Whether the tracks' own acceleration is the model's, within a quarter or their noise."""
    long = [t for t in tracks if len(t.whole) >= 4 and t.along.speed > 0]
    if not long:
        return True
    own, sigma = _own_accelerations(long)
    weights = 1.0 / sigma**2
    middle = _weighted_median(own, weights)
    noise = 3.0 / float(np.sqrt(weights.sum()))
    return abs(middle - model.acceleration) <= max(0.25 * model.acceleration, noise)


def with_acceleration(tracks: list[Track], model: SpeedModel, *, free: bool) -> SpeedModel:
    """Let the tracks with enough sightings decide the acceleration together."""
    long = [track for track in tracks if len(track.whole) >= 4]
    if not long:
        return model
    values, sigmas = _own_accelerations(long)
    middle = _weighted_median(values, 1.0 / sigmas**2)
    combined = float(1.0 / np.sqrt((1.0 / sigmas**2).sum()))
    usual = float(model.acceleration)
    if not np.isfinite(middle) or combined > 0.5 * max(abs(middle), usual):
        return model
    return replace(model, acceleration=max(middle, 0.0) if free else max(middle, 1e-6))


def _own_accelerations(tracks: list[Track]) -> tuple[Floats, Floats]:
    """Return (n,) the tracks' own accelerations and their sigmas, by parabolas."""
    ways = [track.traits.way for track in tracks]
    number = np.array([way.shape[1] for way in ways])
    begins = np.concatenate([[0], np.cumsum(number)[:-1]])
    t, y, var = np.concatenate(ways, axis=1)
    t = t - np.repeat(np.add.reduceat(t, begins) / number, number)
    design = np.stack([np.ones_like(t), t, 0.5 * t * t])
    weighted = design / var
    normal = np.add.reduceat(design[:, None] * weighted, begins, axis=2).transpose(2, 0, 1)
    covariance = np.linalg.pinv(normal)
    moments = np.add.reduceat(weighted * y, begins, axis=1).T
    own = (covariance[:, 2] * moments).sum(axis=1)
    return own, np.sqrt(np.maximum(covariance[:, 2, 2], 1e-12))


def _weighted_median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, 0.5 * total[-1])])


def stray(tracks: list[Track], model: SpeedModel) -> float:
    """Return how far single parts' accelerations stray from the common one, px/s²."""
    long = [track for track in tracks if len(track.whole) >= 5]
    floor = 0.02 * model.acceleration + 1e-3
    if len(long) < 3:
        return max(model.sigma_acceleration, floor)
    values, sigmas = _own_accelerations(long)
    excess = robust_sd(values - model.acceleration) ** 2 - float(np.median(sigmas)) ** 2
    return float(np.sqrt(max(excess, floor**2)))
