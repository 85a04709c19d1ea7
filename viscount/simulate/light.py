"""The light on each line of the picture, relative to the scene's, averaged over its exposure."""

import math

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.geometry import Upright
from viscount.simulate.scene import Light, Pulsed, Step

Array = NDArray[np.float64]

SHORTEST_S = 1e-9
"""An exposure of no length is taken for this one."""


class Lighting:
    """The light of one scene, as its camera's lines see it."""

    def __init__(self, light: Light, up: Upright) -> None:
        self._light, self._up = light, up
        self.steady = light == Light(auto_exposure=light.auto_exposure)

    def level(self, t_s: float, exposure_s: float) -> NDArray[np.float32]:
        """Return the light in a frame with the time `t_s`.

        Returns
        -------
        level : float32, (rows or 1, columns or 1) of the upright picture; 1 is the scene's own.
        """
        up = self._up
        rows = np.arange(up.rows, dtype=np.float64)[:, None] if up.line_s_per_row else 0.0
        columns = np.arange(up.columns, dtype=np.float64)[None, :] if up.line_s_per_column else 0.0
        middle = np.atleast_2d(t_s + up.delay(rows, columns))
        return light_at(self._light, middle, exposure_s).astype(np.float32)


def light_at(light: Light, middle_s: Array, exposure_s: float) -> Array:
    """Return the light over exposures of this length about these moments.

    Each change of the light is averaged exactly; where several fall into one exposure, it is
    the product of their means.
    """
    exposure = max(exposure_s, SHORTEST_S)
    level = np.ones_like(middle_s)
    if light.flicker_percent:
        # The mean of a sine over an exposure: sin(x) / x times its middle.
        swing = light.flicker_percent / 100 * np.sinc(light.flicker_hz * exposure)
        level = level + swing * np.sin(2 * math.pi * light.flicker_hz * middle_s)
    if light.pulsed:
        level = level * _pulsed(light.pulsed, middle_s, exposure)
    for step in light.steps:
        level = level * _stepped(step, middle_s, exposure)
    if light.drift_percent_per_s:
        level = level * np.maximum(1 + light.drift_percent_per_s / 100 * middle_s, 0.0)
    return level


def _pulsed(pulsed: Pulsed, middle_s: Array, exposure_s: float) -> Array:
    """Return the mean of a lamp that is on for the first `duty` of each period; its mean is 1."""

    def lit_until(t: Array) -> Array:
        whole = np.floor(t * pulsed.hz)
        part = t * pulsed.hz - whole
        return np.asarray((whole * pulsed.duty + np.minimum(part, pulsed.duty)) / pulsed.hz)

    lit = lit_until(middle_s + exposure_s / 2) - lit_until(middle_s - exposure_s / 2)
    share = lit / exposure_s / pulsed.duty
    depth = pulsed.depth_percent / 100
    return np.asarray(1 - depth + depth * share)


def _stepped(step: Step, middle_s: Array, exposure_s: float) -> Array:
    lit = np.clip((middle_s - step.at_s) / exposure_s + 0.5, 0.0, 1.0)
    return np.asarray(1 + step.percent / 100 * lit)
