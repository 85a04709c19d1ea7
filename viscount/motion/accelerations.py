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
    own = [_own_acceleration(track) for track in long]
    weights = np.array([1.0 / sigma**2 for _, sigma in own])
    middle = _weighted_median(np.array([a for a, _ in own]), weights)
    noise = 3.0 / float(np.sqrt(weights.sum()))
    return abs(middle - model.acceleration) <= max(0.25 * model.acceleration, noise)


def with_acceleration(tracks: list[Track], model: SpeedModel, *, free: bool) -> SpeedModel:
    """Let the tracks with enough sightings decide the acceleration together."""
    estimates = [_own_acceleration(track) for track in tracks if len(track.whole) >= 4]
    if not estimates:
        return model
    values = np.array([a for a, _ in estimates])
    sigmas = np.array([s for _, s in estimates])
    middle = _weighted_median(values, 1.0 / sigmas**2)
    combined = float(1.0 / np.sqrt((1.0 / sigmas**2).sum()))
    usual = float(model.acceleration)
    if not np.isfinite(middle) or combined > 0.5 * max(abs(middle), usual):
        return model
    return replace(model, acceleration=max(middle, 0.0) if free else max(middle, 1e-6))


def _own_acceleration(track: Track) -> tuple[float, float]:
    """Return a track's own acceleration and its sigma, by a parabola through its sightings."""
    sights = track.whole
    t = np.array([s.t_s for s in sights])
    y = np.array([s.y for s in sights])
    t = t - t.mean()
    design = np.stack([np.ones_like(t), t, 0.5 * t * t], axis=1)
    weight = 1.0 / np.array([s.var_y for s in sights])
    normal = design.T @ (design * weight[:, None])
    covariance = np.linalg.pinv(normal)
    solution = covariance @ (design.T @ (y * weight))
    return float(solution[2]), float(np.sqrt(max(covariance[2, 2], 1e-12)))


def _weighted_median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, 0.5 * total[-1])])


def stray(tracks: list[Track], model: SpeedModel) -> float:
    """Return how far single parts' accelerations stray from the common one, px/s²."""
    own = [_own_acceleration(track) for track in tracks if len(track.whole) >= 5]
    floor = 0.02 * model.acceleration + 1e-3
    if len(own) < 3:
        return max(model.sigma_acceleration, floor)
    values = np.array([a for a, _ in own]) - model.acceleration
    sigmas = np.array([s for _, s in own])
    excess = robust_sd(values) ** 2 - float(np.median(sigmas)) ** 2
    return float(np.sqrt(max(excess, floor**2)))
