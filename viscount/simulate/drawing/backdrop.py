"""What is behind the parts: an even grey, or soft blotches that may creep along."""

import math

import numpy as np
from numpy.typing import NDArray

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

    def picture(self, t_s: float) -> Picture:
        """Return the upright background of a frame with this time; a new array."""
        up, grey = self._up, self._scene.camera.background_grey
        if self._texture is None:
            return np.full((up.rows, up.columns), grey, dtype=np.float32)
        moves = self._texture.speed_px_s or shakes(self._scene.surroundings)
        if self._kept is None or moves:
            self._kept = self._blotches(t_s)
        return self._kept.copy()

    def _blotches(self, t_s: float) -> Picture:
        texture, up = self._texture, self._up
        if texture is None:
            raise AssertionError("an even background has no blotches")
        rows = np.arange(up.rows, dtype=np.float64)
        columns = np.arange(up.columns, dtype=np.float64)
        # Each line at the moment of its own exposure.
        row_s, column_s = t_s + up.delay(rows, 0.0), t_s + up.delay(0.0, columns)
        along, across = shift_px(self._scene.surroundings, row_s)
        rows_seen, off = rows - along - texture.speed_px_s * row_s, across
        columns_seen: Array = columns
        if up.line_s_per_column:
            late = shift_px(self._scene.surroundings, column_s)[1]
            columns_seen, off = columns_seen - late, np.zeros_like(off)
        down, beside = self._waves
        first = rows_seen[:, None] * down - off[:, None] * beside + self._phase
        second = columns_seen[None, :] * beside[:, None]
        left = np.hstack([np.cos(first), np.sin(first)]).astype(np.float32)
        right = np.vstack([np.cos(second), -np.sin(second)]).astype(np.float32)
        size = np.float32(texture.contrast * math.sqrt(2 / WAVES))
        return size * (left @ right) + np.float32(self._scene.camera.background_grey)
