"""Step-by-step integration of motion along the fall from its acceleration.

No closed form of the fall is used here, so that what is judged by these paths shares no
formula with them. One fixed-step Runge-Kutta scheme of fourth order serves the sliding column
and the fall; between steps a cubic through places and speeds is exact where the acceleration
is steady.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from viscount.errors import UsageError
from viscount.simulate.scene import Belt, FreeFall, Motion, Slide

Array = NDArray[np.float64]
Law = Callable[[Array], Array]

STEP_S = 5e-4
LONGEST_S = 60.0
HALVINGS = 54
"""Enough to find a moment within a step to the last bit."""


def downward(motion: Motion) -> Law:
    """Return the acceleration along the fall as a function of the speed down it."""
    if isinstance(motion, Belt):
        return np.zeros_like
    if isinstance(motion, FreeFall):
        gravity, drag = motion.gravity_mm_s2, motion.drag_per_m * 1e-3
        return lambda speed: gravity - drag * speed * np.abs(speed)
    return steady(motion.acceleration_mm_s2)


def upward(motion: Motion) -> Law:
    """Return the same for a part that moves back up; friction then pulls it down, too."""
    if isinstance(motion, Slide):
        incline = math.radians(motion.incline_deg)
        return steady(
            motion.gravity_mm_s2 * (math.sin(incline) + motion.friction * math.cos(incline))
        )
    return downward(motion)


def steady(acceleration_mm_s2: float) -> Law:
    """Return the law of one acceleration whatever the speed."""
    return lambda speed: np.full_like(speed, acceleration_mm_s2)


def fallen(law: Law, speed: Array, until_mm: float) -> tuple[Array, Array]:
    """Step from place 0 with each `speed` (n,) until all are past `until_mm`.

    Returns
    -------
    places in mm and speeds in mm/s, (steps, n), every `STEP_S`.

    Raises
    ------
    UsageError
        Where one would never get there.
    """
    place, speed = np.zeros_like(speed), speed.astype(np.float64)
    places, speeds = [place], [speed]
    while len(places) < 2 or np.min(place, initial=math.inf) < until_mm:
        place, speed = _step(law, place, speed)
        if len(places) * STEP_S > LONGEST_S or np.min(speed, initial=math.inf) < 0:
            raise UsageError(
                f"a part stops or takes over {LONGEST_S:.0f} s to fall {until_mm:.0f} mm",
                where="motion",
                remedy="give it more speed at the lip, or a steeper slide",
            )
        places.append(place)
        speeds.append(speed)
    return np.array(places), np.array(speeds)


def risen(law: Law, speed_mm_s: float) -> tuple[Array, Array, float]:
    """Step from place 0 upwards with a speed (mm/s, positive) until it falls again.

    Returns
    -------
    places and speeds, (steps,), and the time in s at which it turns.

    Raises
    ------
    UsageError
        Where nothing turns it.
    """
    place, speed = np.zeros(1), np.array([-speed_mm_s])
    places, speeds = [place], [speed]
    while len(places) < 2 or speed[0] < 0:
        place, speed = _step(law, place, speed)
        if len(places) * STEP_S > LONGEST_S:
            raise UsageError("a part that bounces never falls again", where="bounce")
        places.append(place)
        speeds.append(speed)
    found = np.concatenate(places), np.concatenate(speeds)
    ends = (*found[0][-2:, None], *found[1][-2:, None])
    low, high = np.zeros(1), np.ones(1)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        falls = cubic(middle, *ends)[1] >= 0
        high, low = np.where(falls, middle, high), np.where(falls, low, middle)
    return *found, (len(places) - 2 + float(high[0])) * STEP_S


def _step(law: Law, place: Array, speed: Array) -> tuple[Array, Array]:
    """Take one step of the classical Runge-Kutta scheme of fourth order."""
    h = STEP_S
    k1 = law(speed)
    k2 = law(speed + h / 2 * k1)
    k3 = law(speed + h / 2 * k2)
    k4 = law(speed + h * k3)
    return (
        place + h * speed + h**2 / 6 * (k1 + k2 + k3),
        speed + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4),
    )


def cubic(s: Array, y0: Array, y1: Array, v0: Array, v1: Array) -> tuple[Array, Array]:
    """Return the Hermite cubic through places and speeds, and its slope, at step fraction s."""
    h = STEP_S
    d, m0, m1 = y1 - y0, v0 * h, v1 * h
    a, b = m0 + m1 - 2 * d, 3 * d - 2 * m0 - m1
    return y0 + s * (m0 + s * (b + s * a)), (m0 + s * (2 * b + s * 3 * a)) / h


def reached(places: Array, speeds: Array, goal: Array) -> Array:
    """Return how many steps it takes each rising column to reach its goal; NaN where it never does.

    `places` and `speeds` are (steps, n), `goal` (n,). What starts at or beyond its goal is there
    at step 0.
    """
    last = len(places) - 2
    i = np.clip(np.sum(places < goal, axis=0) - 1, 0, last)
    each = np.arange(len(goal))
    ends = (places[i, each], places[i + 1, each], speeds[i, each], speeds[i + 1, each])
    low, high = np.zeros(len(goal)), np.ones(len(goal))
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        beyond = cubic(middle, *ends)[0] >= goal
        high, low = np.where(beyond, middle, high), np.where(beyond, low, middle)
    return np.where(places[-1] >= goal, i + high, np.nan)
