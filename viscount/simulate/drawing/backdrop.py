"""What is behind the parts: an even grey, or soft blotches that may creep along."""

import math

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.drawing.exposure import fastest_px_s, instants
from viscount.simulate.geometry import Upright
from viscount.simulate.scene import Scene
from viscount.simulate.shake import shakes, shift_px

Array = NDArray[np.float64]
Picture = NDArray[np.float32]

WAVES = 40
"""Plane waves that a texture is added up from: so many look like noise."""


class Backdrop:
    """The background of one scene.

    A texture is a sum of plane waves with wavelengths about the grain. A wave is a product of a
    function of the row and one of the column, so that the sum is one product of two matrices,
    at any shift of the camera, exactly.
    """

    def __init__(self, scene: Scene, up: Upright) -> None:
        self._scene, self._up = scene, up
        texture = scene.surroundings.texture
        self._texture = texture if texture and texture.contrast else None
        self._kept: Picture | None = None
        self.even = self._texture is None
        if self._texture:
            rng = np.random.default_rng(np.random.SeedSequence(scene.seed, spawn_key=(5, 0)))
            turn = rng.uniform(0, 2 * math.pi, WAVES)
            number = 2 * math.pi / (self._texture.grain_px * rng.uniform(1.5, 4.0, WAVES))
            self._waves = number * np.cos(turn), number * np.sin(turn)
            self._phase = rng.uniform(0, 2 * math.pi, WAVES)

    def picture(self, t_s: float, exposure_s: float) -> Picture:
        """Return the upright background of a frame with this time; a new array."""
        up, grey = self._up, self._scene.camera.background_grey
        if self._texture is None:
            return np.full((up.rows, up.columns), grey, dtype=np.float32)
        moves = self._texture.speed_px_s or shakes(self._scene.surroundings)
        if self._kept is None or moves:
            self._kept = self._blotches(t_s, exposure_s)
        return self._kept.copy()

    def _blotches(self, t_s: float, exposure_s: float) -> Picture:
        texture, up = self._texture, self._up
        if texture is None:
            raise AssertionError("an even background has no blotches")
        rows = np.arange(up.rows, dtype=np.float64)
        columns = np.arange(up.columns, dtype=np.float64)
        down, beside = self._waves
        first, second = rows[:, None] * down + self._phase, columns[:, None] * beside
        # Each line at the moments of its own exposure; a shift goes with the line that has it.
        sideways = bool(up.line_s_per_column)
        line_s = t_s + (up.delay(0.0, columns) if sideways else up.delay(rows, 0.0))
        fastest = abs(texture.speed_px_s) + fastest_px_s(self._scene.surroundings)
        times = line_s[:, None, None] + instants(fastest, exposure_s)[:, None]
        along, across = shift_px(self._scene.surroundings, times)
        shift = (along + texture.speed_px_s * times) * down + across * beside
        of_rows, of_columns = (
            _averaged(own[:, None] - (shift if moves else 0.0))
            for own, moves in ((first, not sideways), (second, sideways))
        )
        of_columns[:, WAVES:] *= -1
        # Not by a library of many threads: the work is small, and cores may be short.
        sum_of_waves: Picture = np.einsum("rw,cw->rc", of_rows, of_columns)
        sum_of_waves *= np.float32(texture.contrast * math.sqrt(2 / WAVES))
        sum_of_waves += np.float32(self._scene.camera.background_grey)
        return sum_of_waves


def _averaged(phase: Array) -> Picture:
    """Return the mean cosine and sine of phases (lines, instants, waves), as (lines, 2 waves)."""
    return np.hstack([np.cos(phase).mean(axis=1), np.sin(phase).mean(axis=1)]).astype(np.float32)
