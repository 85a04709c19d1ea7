"""The instants of an exposure at which things are drawn, and how the camera is shaken meanwhile."""

import math

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.scene import Surroundings

Array = NDArray[np.float64]

STEP_PX = 0.25
"""Nothing moves farther from one instant to the next."""


def instants(fastest_px_s: float, exposure_s: float) -> Array:
    """Return the instants of an exposure, in s from its middle, evenly spread."""
    count = max(1, math.ceil(fastest_px_s * exposure_s / STEP_PX))
    offsets: Array = ((np.arange(count) + 0.5) / count - 0.5) * exposure_s
    return offsets


def farthest_px(surroundings: Surroundings) -> float:
    """Return how far the picture may be shaken off its place, at most."""
    feeder = surroundings.feeder.amplitude_px if surroundings.feeder else 0.0
    return feeder + sum(blow.amplitude_px for blow in surroundings.blows)


def fastest_px_s(surroundings: Surroundings) -> float:
    """Return how fast the picture may be shaken in either direction, at most."""
    feeder, blows = surroundings.feeder, surroundings.blows
    swings = [(f.hz, f.amplitude_px) for f in ((feeder,) if feeder else ())]
    swings += [(blow.hz, blow.amplitude_px) for blow in blows]
    return sum(2 * math.pi * hz * amplitude for hz, amplitude in swings)
