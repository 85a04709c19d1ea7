"""The law of the fall: place, speed and time under one constant acceleration.

The one copy of the law in the program. Free fall, a slide and a belt differ only in the
acceleration (g, g sin θ − μ g cos θ, 0). Lengths here are along the fall, positive downstream,
measured from the counting line; the unit of length is the caller's (px or mm), time is in
seconds. All functions take scalars or arrays that broadcast.

With ``u`` the speed at the line: ``y(τ) = u τ + a τ²/2`` and ``v(y)² = u² + 2 a y``
(uniform acceleration, any mechanics textbook).
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

STANDARD_GRAVITY_MM_S2: Final = 9806.65
"""Standard gravity, exact (3rd CGPM, 1901)."""

Floats = NDArray[np.float64]

TINY: Final = float(np.finfo(np.float64).tiny)
"""Stands for a speed of zero where something is divided by it."""


def speed_at(speed_at_line: ArrayLike, acceleration: ArrayLike, y: ArrayLike) -> Floats:
    """Return the speed at `y`, or 0 above the place from which a part would have fallen."""
    u = np.asarray(speed_at_line, dtype=np.float64)
    a = np.asarray(acceleration, dtype=np.float64)
    square = u * u + 2.0 * a * np.asarray(y, dtype=np.float64)
    return np.sqrt(np.maximum(square, 0.0))


def line_speed(speed: ArrayLike, acceleration: float, y: ArrayLike) -> Floats:
    """Return the speed at the line of a part that has `speed` at `y`."""
    return speed_at(speed, acceleration, -np.asarray(y, dtype=np.float64))


def time_to(speed_at_line: ArrayLike, acceleration: ArrayLike, y: ArrayLike) -> Floats:
    """Return the time from the line to `y`, negative upstream.

    Written as ``2 y / (u + v)``, which loses no digits where the acceleration is small.
    """
    y = np.asarray(y, dtype=np.float64)
    total = np.asarray(speed_at_line, dtype=np.float64) + speed_at(speed_at_line, acceleration, y)
    return np.asarray(2.0 * y / np.maximum(total, TINY))


def place_after(
    y: ArrayLike, speed: ArrayLike, acceleration: float, elapsed_s: ArrayLike
) -> tuple[Floats, Floats]:
    """Return place and speed `elapsed_s` later (or earlier, where negative)."""
    t = np.asarray(elapsed_s, dtype=np.float64)
    v = np.asarray(speed, dtype=np.float64)
    return np.asarray(y, dtype=np.float64) + (v + 0.5 * acceleration * t) * t, v + acceleration * t


def time_sigma(
    speed_at_line: ArrayLike,
    acceleration: float,
    y: ArrayLike,
    *,
    sigma_speed: ArrayLike,
    sigma_y: ArrayLike,
    sigma_acceleration: float = 0.0,
) -> Floats:
    """Return the standard uncertainty of `time_to` by the law of propagation (JCGM 100, 5.1.2).

    ``∂τ/∂y = 1/v``, ``∂τ/∂u = −τ/v``, ``∂τ/∂a = −τ²/(2 v)``; inputs taken as uncorrelated.
    """
    v = np.maximum(speed_at(speed_at_line, acceleration, y), TINY)
    tau = time_to(speed_at_line, acceleration, y)
    variance = (
        (np.asarray(sigma_y) / v) ** 2
        + (tau * np.asarray(sigma_speed) / v) ** 2
        + (tau * tau * sigma_acceleration / (2.0 * v)) ** 2
    )
    return np.sqrt(np.asarray(variance, dtype=np.float64))
