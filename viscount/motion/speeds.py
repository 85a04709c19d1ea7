"""How fast parts are at the line, and how far they scatter, as tracks teach it."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from viscount.motion.linking import FIRST_SHAPE_PX
from viscount.motion.paths import fitted
from viscount.motion.speed import SpeedModel
from viscount.motion.spread import robust_sd
from viscount.motion.track import Track
from viscount.motion.trend import trend

Floats = NDArray[np.float64]

OFF_SHARE, OFF_SPREADS = 0.15, 6.0
"""A speed that is off its neighbours' by this share, and so many standard deviations, is a wrong
link's."""
MANY_TWICE = 6
"""So many parts seen twice tell their speed where hardly one was seen more often."""
LEAST_SPREAD = 0.004
"""However alike parts are, their speeds may differ by this share."""
LEAST_SHAPE_PX = 0.005
"""However round they are, their centres scatter by so much about their paths."""


def with_speeds(taught: list[Track], model: SpeedModel, late: Sequence[Track] = ()) -> SpeedModel:
    """Learn speed along the pour and scatter from good tracks; `late` ones tell speeds alone."""
    every = [*taught, *late]
    paths = fitted([track.traits.way for track in every], model, with_prior=False)
    t_s, _, speed = paths.at_line(1)
    speed = np.maximum(speed, 1e-3)
    own = np.sqrt(paths.var_speed)
    order = np.argsort(t_s)
    in_line = _in_line(speed[order])
    if in_line.any():
        # Of three that all differ none is in line with the others.
        order = order[in_line]
    t_s, speed, own = t_s[order], speed[order], own[order]
    smooth = median_filter(speed, size=min(7, speed.size), mode="nearest")
    return replace(
        model,
        # A stated speed that parts were followed by is one that the clip bears out.
        learned=model.learned or model.stated,
        t_s=t_s,
        speed=smooth,
        spread=_spread(speed, smooth, own),
        sigma_shape_px=_shape_scatter(taught, paths.squares[: len(taught)], model),
    )


def with_speeds_by_two(twice: list[Track], model: SpeedModel) -> SpeedModel:
    """Return the model with the speeds of parts that were seen twice, if they are surer than it.

    By a line through them all: the links of all parts in one frame may be wrong together, and a
    median of neighbours would believe them.
    """
    if len(twice) < MANY_TWICE:
        return model
    paths = fitted([track.traits.way for track in twice], model, with_prior=False)
    t_s, _, speed = paths.at_line(1)
    slope, level = trend(t_s, speed)
    line, ends = level + slope * t_s, np.array([t_s.min(), t_s.max()])
    if line.min() <= 0.0:
        return model
    spread = _spread(speed, line, np.sqrt(paths.var_speed))
    if spread >= model.spread:
        return model
    return replace(model, t_s=ends, speed=level + slope * ends, spread=spread)


def _spread(speed: Floats, usual: Floats, sigma: Floats) -> float:
    """Return how far parts' speeds, known to `sigma`, are off the usual ones, as a share."""
    scatter, own = robust_sd(speed / usual - 1.0), float(np.median(sigma / usual))
    return 1.3 * math.sqrt(max(scatter**2 - own**2, LEAST_SPREAD**2)) + LEAST_SPREAD


def _in_line(speeds: Floats) -> NDArray[np.bool_]:
    """Tell which of a pour's speeds, in order of time, are not far off those of their neighbours.

    At the ends a median of neighbours on one side only would believe a last one that is wrong.
    """
    around = median_filter(speeds, size=min(7, speeds.size), mode="mirror")
    off = np.abs(speeds / around - 1.0)
    # A column's first parts differ most: the first one may lie where the next two point.
    off[0] = min(off[0], abs(speeds[0] / max(2.0 * speeds[1] - speeds[2], 1e-3) - 1.0))
    off[-1] = min(off[-1], abs(speeds[-1] / max(2.0 * speeds[-2] - speeds[-3], 1e-3) - 1.0))
    return np.asarray(off <= max(OFF_SHARE, OFF_SPREADS * robust_sd(off)))


def _shape_scatter(tracks: list[Track], squares: Floats, model: SpeedModel) -> float:
    """Return the scatter of centres about their paths that the detector did not foresee.

    `squares` (n,) are the sums of the squared distances of the whole sightings from their paths.
    """
    freedom = np.array([len(track.whole) for track in tracks]) - 2
    excess = float(np.median(squares / freedom))
    var_y = np.concatenate([track.traits.way[2] for track in tracks])
    # What the linker added to the detector's own noise for a scatter that was not known yet.
    added = model.sigma_shape_px or FIRST_SHAPE_PX
    own = float(np.median(var_y)) - added**2
    return math.sqrt(max(excess - own, LEAST_SHAPE_PX**2))
