"""The board's clock against the capture clock: a slowly bending line with its uncertainty."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.clock_state import ClockState, carried

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClockLine:
    """What the board's clock of one epoch shows at any time of the capture clock.

    Attributes
    ----------
    epoch : of the board.
    origin_ns, board_origin_ns : from where the states count on either clock.
    states : one or more, in order of time; straight lines between them.
    scatter : by how much residuals are larger than their stated uncertainty, >= 1.
    """

    epoch: int
    origin_ns: int
    board_origin_ns: int
    states: tuple[ClockState, ...]
    scatter: float = 1.0

    @property
    def height(self) -> float:
        """How much lower the beam is than stated, in standard uncertainties of its height."""
        return float(self.states[-1].mean[2])

    def offset_ns(self, t_ns: int) -> float:
        """Return the board's clock minus the capture clock at `t_ns` of the latter."""
        t_s = np.array([(t_ns - self.origin_ns) * 1e-9])
        return float(1e3 * self.offset_us(t_s)[0]) + (self.board_origin_ns - self.origin_ns)

    def sigma_ns(self, t_ns: int) -> float:
        """Return the standard uncertainty of `offset_ns`, that of the beam's height included."""
        t_s = np.array([(t_ns - self.origin_ns) * 1e-9])
        return 1e3 * float(self.sigma_us(t_s, np.zeros(1))[0])

    @property
    def drift_ppm(self) -> float:
        """The mean rate of the board's clock against the capture clock, minus 1, in ppm."""
        weights = self._spans()
        return float(weights @ [state.mean[1] for state in self.states] / weights.sum())

    @property
    def sigma_drift_ppm(self) -> float:
        """Standard uncertainty of `drift_ppm`: that of the surest stretch."""
        return float(np.sqrt(min(state.cov[1, 1] for state in self.states)))

    def sigma_us(self, t_s: Floats, common_us: Floats) -> Floats:
        """Return the standard uncertainty of offset and height together at times (n,)."""
        at = np.array([state.at_s for state in self.states])
        near = np.abs(t_s[:, None] - at[None, :]).argmin(axis=1) if at.size < 8 else _near(at, t_s)
        variance = np.empty(t_s.size)
        for k in np.unique(near):
            chosen = near == k
            variance[chosen] = self.states[k].variance(t_s[chosen], common_us[chosen])
        return np.sqrt(variance)

    def captured_us(self, board_us: Floats) -> Floats:
        """Return times (n,) of the board's clock on the capture clock, both from their origins."""
        at_us = np.array([1e6 * state.at_s for state in self.states])
        knots = at_us + [state.mean[0] for state in self.states]
        found = np.interp(board_us, knots, at_us)
        for k, outside in ((0, board_us < knots[0]), (-1, board_us > knots[-1])):
            rate = 1.0 + 1e-6 * self.states[k].mean[1]
            found[outside] = at_us[k] + (board_us[outside] - knots[k]) / rate
        return np.asarray(found)

    def offset_us(self, t_s: Floats) -> Floats:
        """Return board minus capture time (n,) at seconds from the origin, in us, both origins
        taken off."""
        at = np.array([state.at_s for state in self.states])
        offsets = np.array([state.mean[0] for state in self.states])
        found = np.interp(t_s, at, offsets)
        for k, outside in ((0, t_s < at[0]), (-1, t_s > at[-1])):
            found[outside] = offsets[k] + self.states[k].mean[1] * (t_s[outside] - at[k])
        return np.asarray(found)

    def _spans(self) -> Floats:
        at = np.array([state.at_s for state in self.states])
        return np.gradient(at) if at.size > 1 else np.ones(1)

    def at(self, t_s: float) -> ClockState:
        """Return the state carried to `t_s` seconds after the origin from the nearest one."""
        nearest = min(self.states, key=lambda state: abs(state.at_s - t_s))
        return carried(nearest, t_s)


def _near(at: Floats, t_s: Floats) -> NDArray[np.int64]:
    """Return the index of the nearest of ascending `at` for each time."""
    middles = 0.5 * (at[1:] + at[:-1])
    return np.searchsorted(middles, t_s).astype(np.int64)
