"""The course of the light through a clip: steps at once, and slow drift."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEP = 0.05
"""Lasting change at once, relative, that is a step."""

_SIDE_S, _LEAST_SIDE = 0.1, 6
"""The level before and after is the median over this time, and at least so many frames."""

_UNREST = 3.0
"""A step exceeds what the same measure shows elsewhere by so many times."""

_BLOCKS = 24
"""Stretches whose medians the drift is fitted to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LightStep:
    """A lasting change of the light: the first frame after it, and the change in percent."""

    frame: int
    percent: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LightCourse:
    """Steps, and the drift that is left between them.

    Attributes
    ----------
    steps : in order of time.
    percent_per_s : slope of the straight line through the light, steps taken off.
    drift_percent : what that comes to over the clip.
    range_percent : from the darkest to the brightest stretch of the clip, steps taken off.
    factor : (n,) the steps' share of each frame's light: divide by it to take them off.
    """

    steps: tuple[LightStep, ...]
    percent_per_s: float
    drift_percent: float
    range_percent: float
    factor: Floats


def light_course(t_s: Floats, light: Floats) -> LightCourse:
    """Return the course of the light.

    Parameters
    ----------
    t_s : (n,) ascending times of the frames.
    light : (n,) light of the whole picture, about 1; finite.
    """
    steps = _steps(t_s, light)
    factor = np.ones(light.size)
    for step in steps:
        factor[step.frame :] *= 1 + step.percent / 100
    times, levels = _stretches(t_s, light / factor)
    slope = _slope(times, levels)
    mean = max(float(levels.mean()), 1e-9)
    return LightCourse(
        steps=steps,
        percent_per_s=100 * slope / mean,
        drift_percent=100 * slope / mean * float(t_s[-1] - t_s[0]),
        range_percent=100 * float(np.ptp(levels)) / mean,
        factor=factor,
    )


def _steps(t_s: Floats, light: Floats) -> tuple[LightStep, ...]:
    n = light.size
    if n < 2:
        return ()
    interval = max(float(np.median(np.diff(t_s))), 1e-9)
    side = max(_LEAST_SIDE, round(_SIDE_S / interval))
    if n < 3 * side:
        return ()
    medians = np.median(np.lib.stride_tricks.sliding_window_view(light, side), axis=1)
    # change[i]: from the `side` frames before frame i + side to those from it on.
    change = medians[side:] / np.maximum(medians[:-side], 1e-9) - 1
    found: list[LightStep] = []
    size = np.abs(change)
    usual = float(np.median(size))
    left = size.copy()
    while left.size and left.max() >= max(STEP, _UNREST * usual):
        # All places within half a window of a step share its change: the middle one is it.
        top = int(left.argmax())
        near = np.arange(max(top - side, 0), min(top + side + 1, left.size))
        high = near[left[near] >= 0.98 * left[top]]
        middle = int(high[high.size // 2])
        percent = 100 * float(change[middle])
        found.append(LightStep(frame=middle + side, percent=percent))
        left[max(top - side, 0) : top + side + 1] = 0.0
    return tuple(sorted(found, key=lambda step: step.frame))


def _stretches(t_s: Floats, light: Floats) -> tuple[Floats, Floats]:
    parts = np.array_split(np.arange(light.size), min(_BLOCKS, light.size))
    times = np.array([t_s[part].mean() for part in parts])
    return times, np.array([np.median(light[part]) for part in parts])


def _slope(times: Floats, levels: Floats) -> float:
    centred = times - times.mean()
    square = float(centred @ centred)
    return float(centred @ levels) / square if square > 0 else 0.0
