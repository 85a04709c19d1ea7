"""Offset, drift and height at one moment, and how a stretch of matches moves them.

A Kalman filter over stretches of events (Kalman 1960) with a smoother behind it (Rauch, Tung and
Striebel 1965). The state is the offset in us, the drift in ppm (us per second) and the error of
the beam's height in its standard uncertainties; a match says ``y = offset + drift (t - at) +
height * common``. The drift wanders as a crystal's does with the temperature of its room.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DRIFT_PRIOR_PPM = 60.0
"""Standard deviation of the drift of one cheap crystal against another, before anything is known:
100 ppm must be an ordinary find."""
WANDER_PPM_PER_ROOT_S = 1.0 / 60.0
"""How far a drift wanders: 1 ppm in an hour."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClockState:
    """What is known at `at_s`: `mean` (3,) and `cov` (3, 3) of offset, drift and height."""

    at_s: float
    mean: Floats
    cov: Floats

    def expected_us(self, t_s: Floats, common_us: Floats) -> Floats:
        """Return the expected differences (n,) of board and capture time."""
        offset, drift, height = self.mean
        return np.asarray(offset + drift * (t_s - self.at_s) + height * common_us)

    def variance(self, t_s: Floats, common_us: Floats) -> Floats:
        """Return the variance (n,) of `expected_us`, the wander since `at_s` included."""
        gone = t_s - self.at_s
        rows = np.column_stack([np.ones(gone.size), gone, common_us])
        known = np.einsum("ni,ij,nj->n", rows, self.cov, rows)
        return np.asarray(known + WANDER_PPM_PER_ROOT_S**2 * np.abs(gone) ** 3 / 3.0)


def unknown(at_s: float, offset_us: float, sigma_us: float, common_us: float) -> ClockState:
    """Return what is known before the first match: where to look, and how drifts usually are.

    What is known to `sigma_us` is when parts meet, at which the height has its share: ``offset +
    height * common_us``. Offset and height are therefore bound to each other from the start.
    """
    cov = np.diag([sigma_us**2 + common_us**2, DRIFT_PRIOR_PPM**2, 1.0])
    cov[0, 2] = cov[2, 0] = -common_us
    return ClockState(at_s=at_s, mean=np.array([offset_us, 0.0, 0.0]), cov=cov)


def carried(state: ClockState, at_s: float) -> ClockState:
    """Return the state as it is known at another time."""
    step, wander = _step(at_s - state.at_s)
    cov = step @ state.cov @ step.T + wander
    return ClockState(at_s=at_s, mean=step @ state.mean, cov=cov)


def updated(
    state: ClockState, t_s: Floats, y_us: Floats, common_us: Floats, sigma_us: Floats
) -> ClockState:
    """Return the state after matches (n,) of its stretch, all weighed at once."""
    rows = np.column_stack([np.ones(t_s.size), t_s - state.at_s, common_us])
    weights = 1.0 / sigma_us**2
    before = np.linalg.inv(state.cov)
    cov = np.linalg.inv(before + (rows * weights[:, None]).T @ rows)
    mean = cov @ (before @ state.mean + rows.T @ (weights * y_us))
    return ClockState(at_s=state.at_s, mean=mean, cov=0.5 * (cov + cov.T))


def smoothed(states: Sequence[ClockState]) -> tuple[ClockState, ...]:
    """Return the filter's states with what came after each."""
    found = [states[-1]]
    for state in reversed(states[:-1]):
        after = found[-1]
        ahead = carried(state, after.at_s)
        step, _ = _step(after.at_s - state.at_s)
        gain = state.cov @ step.T @ np.linalg.inv(ahead.cov)
        mean = state.mean + gain @ (after.mean - ahead.mean)
        cov = state.cov + gain @ (after.cov - ahead.cov) @ gain.T
        found.append(ClockState(at_s=state.at_s, mean=mean, cov=0.5 * (cov + cov.T)))
    return tuple(reversed(found))


def _step(gone_s: float) -> tuple[Floats, Floats]:
    """Return the transition over a time, and what the wandering drift adds (white on the drift)."""
    step = np.eye(3)
    step[0, 1] = gone_s
    gone, power = abs(gone_s), WANDER_PPM_PER_ROOT_S**2
    wander = np.zeros((3, 3))
    wander[0, 0] = power * gone**3 / 3.0
    wander[0, 1] = wander[1, 0] = power * gone * gone_s / 2.0
    wander[1, 1] = power * gone
    return step, wander
