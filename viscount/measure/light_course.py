"""The course of the light through a clip: steps, and slow drift."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEP = 0.05
"""Lasting change, relative, that is a step where it comes in no more than the time below."""

_SIDE_S, _LEAST_SIDE = 0.1, 6
"""The level before and after is the median over this time, and at least so many frames."""

_UNREST = 3.0
"""A step exceeds what the same measure shows elsewhere by so many times."""

_HALF = 0.5
"""Share of a change at once that a camera's own exposure makes up for, and never at once."""

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
    step_s : time in which the change of a step comes, at most.
    percent_per_s : slope of the straight line through the light, steps taken off.
    drift_percent : what that comes to over the clip.
    range_percent : from the darkest to the brightest stretch of the clip, steps taken off.
    factor : (n,) the steps' share of each frame's light: divide by it to take them off.
    made_up_for : the light went back by degrees from what changed at once, as where a camera
        sets its own exposure.
    """

    steps: tuple[LightStep, ...]
    step_s: float
    percent_per_s: float
    drift_percent: float
    range_percent: float
    factor: Floats
    made_up_for: bool


def light_course(t_s: Floats, light: Floats) -> LightCourse:
    """Return the course of the light.

    Parameters
    ----------
    t_s : (n,) ascending times of the frames.
    light : (n,) light of the whole picture, about 1; finite.
    """
    interval_s = max(float(np.median(np.diff(t_s))), 1e-9) if light.size > 1 else _SIDE_S
    side = max(_LEAST_SIDE, round(_SIDE_S / interval_s))
    steps = _steps(light, side)
    factor = np.ones(light.size)
    for step in steps:
        factor[step.frame :] *= 1 + step.percent / 100
    times, levels = _stretches(t_s, light / factor)
    slope = _slope(times, levels)
    mean = max(float(levels.mean()), 1e-9)
    return LightCourse(
        steps=steps,
        step_s=side * interval_s,
        percent_per_s=100 * slope / mean,
        drift_percent=100 * slope / mean * float(t_s[-1] - t_s[0]),
        range_percent=100 * float(np.ptp(levels)) / mean,
        factor=factor,
        made_up_for=bool(steps) and _made_up_for(light),
    )


def _made_up_for(light: Floats) -> bool:
    """Return whether half or more of the greatest change at once went back, but not at once.

    At once is from one frame to the next but one: an exposure may lie across the change.
    """
    course = np.log(np.maximum(light, 1e-9))
    changes = course[2:] - course[:-2]
    first = int(np.abs(changes).argmax())
    change = float(changes[first])
    back = float((-np.sign(change) * changes[first:]).max())
    left = float(np.median(course[-_LEAST_SIDE:])) - float(course[first])
    return back < _HALF * abs(change) and abs(left) < _HALF * abs(change)


def _steps(light: Floats, side: int) -> tuple[LightStep, ...]:
    if light.size < 3 * side:
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
