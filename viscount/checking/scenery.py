"""The empty scene behind the parts: its light, its noise, and whether it stands still."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from viscount.checking.series import Series
from viscount.measure.cells import EmptyCells, cells
from viscount.measure.flicker import MOST_FRAMES
from viscount.measure.grain import grain_sigma, sparse
from viscount.measure.shake import Texture, shift_px, texture
from viscount.values import Frame

_LEARNED_FROM = 24
"""Opening frames that the empty scene is the median of."""

_GRAIN_EVERY = 4
"""Frames from one look at the noise to the next."""

_SHAKES = 4096
"""Looks at the camera's steadiness."""

_CREEP_PAIRS = 8
"""Pairs of opening frames that are compared, to see whether the background creeps."""


class Scenery:
    """Watches the background from frame to frame; keeps numbers, never frames.

    Parameters
    ----------
    opening : the first frames, at least one, all of one size.

    Attributes
    ----------
    level : float32 (H, W), the empty scene.
    light : columns t_s and whole, one row a frame.
    rows, columns : (cells,) light of each line of cells, for the first frames.
    grain : columns sigma, in grey.
    shake : columns t_s, down, right and sigma, in px; `looked` is how many frames were asked.
    creep : columns down and right, in px/s.
    """

    def __init__(self, opening: Sequence[Frame]) -> None:
        whole = [frame for frame in opening if not frame.damaged] or list(opening)
        chosen = [whole[i] for i in _evenly(len(whole), _LEARNED_FROM)]
        self.level = _empty_scene(chosen)
        self.cells = EmptyCells(cells(self.level))
        self.light = Series("t_s", "whole")
        self.rows: list[NDArray[np.float32]] = []
        self.columns: list[NDArray[np.float32]] = []
        self.grain = Series("sigma")
        self.shake = Series("t_s", "down", "right", "sigma", most=_SHAKES)
        self.creep = Series("down", "right")
        self._sparse: NDArray[np.float32] | None = None
        self._seen = 0
        self.looked = 0
        noise = _noise(chosen)
        self._held: Texture | None = texture(self.level, noise / np.sqrt(len(chosen)) * 1.25)
        self._creep(whole, noise)

    @property
    def textured(self) -> bool:
        """Whether the background shows enough to tell a shift."""
        return self._held is not None

    def add(self, frame: Frame) -> float:
        """Look at one frame; return its light relative to the empty scene's."""
        whole = 1.0
        if self.cells.tells:
            lightness = self.cells.lightness(cells(frame.pixels))
            whole = lightness.whole
            self.light.add(t_s=frame.t_ns * 1e-9, whole=whole)
            if len(self.rows) < MOST_FRAMES:
                self.rows.append(lightness.rows)
                self.columns.append(lightness.columns)
        self._add_grain(frame)
        if self._held is not None and not self.shake.full:
            shift = shift_px(self._held, frame.pixels)
            self.looked += 1
            if shift is not None:
                self.shake.add(
                    t_s=frame.t_ns * 1e-9,
                    down=shift.down_px,
                    right=shift.right_px,
                    sigma=shift.sigma_px,
                )
        self._seen += 1
        return whole

    def _add_grain(self, frame: Frame) -> None:
        turn = self._seen % _GRAIN_EVERY
        if turn == 0:
            self._sparse = sparse(frame.pixels)
        elif turn == 1 and self._sparse is not None:
            if not (frame.repeated or frame.damaged):
                self.grain.add(sigma=grain_sigma(self._sparse, sparse(frame.pixels)))
            self._sparse = None

    def _creep(self, opening: Sequence[Frame], noise: float) -> None:
        """Compare opening frames an eighth of the opening apart."""
        apart = len(opening) // _CREEP_PAIRS
        if apart < 1:
            return
        for first in range(0, len(opening) - apart, apart):
            one, other = opening[first], opening[first + apart]
            held = texture(one.pixels.astype(np.float32), noise)
            shift = None if held is None else shift_px(held, other.pixels)
            span_s = (other.t_ns - one.t_ns) * 1e-9
            if shift is not None and span_s > 0:
                self.creep.add(down=shift.down_px / span_s, right=shift.right_px / span_s)


def _empty_scene(frames: Sequence[Frame]) -> NDArray[np.float32]:
    """Return the median of the frames, all brought to the same light; float32 (H, W)."""
    coarse = [cells(frame.pixels) for frame in frames]
    empty = EmptyCells(np.median(np.stack(coarse), axis=0))
    lights = [empty.lightness(one).whole if empty.tells else 1.0 for one in coarse]
    even = [f.pixels / np.float32(max(g, 0.1)) for f, g in zip(frames, lights, strict=True)]
    level: NDArray[np.float32] = np.median(np.stack(even), axis=0).astype(np.float32)
    return level


def _noise(frames: Sequence[Frame]) -> float:
    """Return the noise of one pixel in the opening, in grey."""
    thin = [sparse(frame.pixels) for frame in frames]
    found = [grain_sigma(a, b) for a, b in pairwise(thin)]
    return float(np.median(found)) if found else 1.0


def _evenly(count: int, most: int) -> list[int]:
    return [round(i) for i in np.linspace(0, count - 1, min(count, most))]
