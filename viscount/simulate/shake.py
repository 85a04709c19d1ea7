"""How far the camera is shaken off its place, as a function of time."""

import math

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.scene import Surroundings

Array = NDArray[np.float64]

FEEDER_PHASE = 1.0
"""Rad by which the shaking across is behind that along, so that it runs round an ellipse."""


def shift_px(surroundings: Surroundings, t_s: Array | float) -> tuple[Array, Array]:
    """Return how far the picture is off along and across the fall, in px, at the times `t_s`."""
    t = np.asarray(t_s, dtype=np.float64)
    along, across = np.zeros_like(t), np.zeros_like(t)
    feeder = surroundings.feeder
    if feeder:
        phase = 2 * math.pi * feeder.hz * t
        along = along + feeder.amplitude_px * np.sin(phase)
        across = across + feeder.amplitude_px * np.sin(phase - FEEDER_PHASE)
    for blow in surroundings.blows:
        age = np.maximum(t - blow.at_s, 0.0)
        ring = blow.amplitude_px * np.exp(-age / blow.decay_s)
        along = along + ring * np.sin(2 * math.pi * blow.hz * age)
    return along, across


def shakes(surroundings: Surroundings) -> bool:
    """Whether anything shakes the camera at all."""
    return bool(surroundings.feeder or surroundings.blows)
