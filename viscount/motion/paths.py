"""Paths under the law of the fall, fitted to the sightings of many parts at once."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.motion.speed import SpeedModel

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Paths:
    """Place and speed of n parts, each at a moment of its own, under one acceleration.

    Attributes
    ----------
    t_s : (n,) those moments.
    y, speed : (n,) in px and px/s.
    var_y, cov, var_speed : (n,) their covariance.
    acceleration : px/s².
    misfit : (n,) chi² per degree of freedom.
    squares : (n,) sum of the squared distances of the sightings from the path, px².
    """

    t_s: Floats
    y: Floats
    speed: Floats
    var_y: Floats
    cov: Floats
    var_speed: Floats
    acceleration: float
    misfit: Floats
    squares: Floats

    def at_line(self, heading: int | NDArray[np.intp]) -> tuple[Floats, Floats, Floats]:
        """Return (n,) times, their sigmas and speeds at the line.

        Of the two moments at which a thrown body passes a height, the one on which it moves
        in the direction of `heading`, 1 or -1, for all or (n,) for each.
        """
        square = self.speed**2 - 2 * self.acceleration * self.y
        at_line = heading * np.sqrt(np.maximum(square, 0.0))
        total = at_line + self.speed
        tau = -2 * self.y / np.where(total == 0.0, np.inf, total)
        if abs(self.acceleration) >= 1e-9:
            lost = np.abs(total) <= 1e-6 * np.abs(at_line) + 1e-9
            tau = np.where(lost, (at_line - self.speed) / self.acceleration, tau)
        # y + v τ + a τ²/2 = 0  →  ∂τ/∂y = −1/v_line, ∂τ/∂v = −τ/v_line
        spread = self.var_y + tau * (2.0 * self.cov + tau * self.var_speed)
        sigma = np.sqrt(np.maximum(spread, 0.0)) / np.maximum(np.abs(at_line), 1e-9)
        return self.t_s + tau, sigma, np.asarray(at_line)

    def one(self, index: int) -> "Paths":
        """Return one of them."""
        own = slice(index, index + 1)
        return Paths(
            t_s=self.t_s[own],
            y=self.y[own],
            speed=self.speed[own],
            var_y=self.var_y[own],
            cov=self.cov[own],
            var_speed=self.var_speed[own],
            acceleration=self.acceleration,
            misfit=self.misfit[own],
            squares=self.squares[own],
        )


def fitted(ways: Sequence[Floats], model: SpeedModel, *, with_prior: bool | Flags) -> Paths:
    """Fit place and speed by weighted least squares.

    The covariance is widened by chi² where that is clearly above 1 (Birge ratio). With
    `with_prior` the speed model takes part as one more observation.

    Parameters
    ----------
    ways : n arrays (3, k) of times in s, places in px and their variances in px²; k is 1 or more.
    with_prior : for all, or (n,) for each.
    """
    number = np.array([way.shape[1] for way in ways])
    begins = np.concatenate([[0], np.cumsum(number)[:-1]])
    t, y, var = np.concatenate(ways, axis=1)

    def total(values: Floats) -> Floats:
        return np.add.reduceat(values, begins)

    a = model.acceleration
    t0 = total(t) / number
    dt = t - np.repeat(t0, number)
    flat = y - 0.5 * a * dt * dt
    prior_speed, sigma = model.speeds_at(t0, total(flat) / number)
    sigma = np.where(with_prior, sigma, 10 * np.maximum(sigma, prior_speed))
    # The two normal equations of each, solved in closed form.
    weight = 1.0 / var
    w, wt, wtt = total(weight), total(weight * dt), total(weight * dt * dt) + sigma**-2
    wy, wty = total(weight * flat), total(weight * flat * dt) + prior_speed * sigma**-2
    det = w * wtt - wt * wt
    place, speed = (wtt * wy - wt * wty) / det, (w * wty - wt * wy) / det
    square = (flat - np.repeat(place, number) - np.repeat(speed, number) * dt) ** 2
    freedom = np.maximum(number - np.where(with_prior, 1, 2), 1)
    misfit = total(weight * square) / freedom
    # chi² scatters by sqrt(2 / freedom) of itself: only beyond twice that it says something.
    widen = np.maximum(misfit / (1.0 + 2.0 * np.sqrt(2.0 / freedom)), 1.0) / det
    return Paths(
        t_s=t0,
        y=place,
        speed=speed,
        var_y=wtt * widen + model.sigma_shake_px**2 / number,
        cov=-wt * widen,
        var_speed=w * widen,
        acceleration=a,
        misfit=misfit,
        squares=total(square),
    )
