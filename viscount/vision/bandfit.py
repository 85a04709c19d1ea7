"""The bands of light in one frame, told from a sparse grid of pixels; parts are outliers."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.vision.bands import Bands
from viscount.vision.patterns import robust
from viscount.vision.profiles import tellers

_ROOM = 1.5
"""Bands may swing so many times as far as they ever did while they were learned."""

_DARK_GREY, _FULL_GREY = 8.0, 250.0
"""Pixels beyond these say little about a ratio of brightness."""

_LINES, _ACROSS_PX = 36, 18
"""Lines, and pixels of each, that are looked at; at least."""

_REFINED = 2
"""Least-squares fits to the pixels that show the background."""

Picture = NDArray[np.uint8] | NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """The light of one frame.

    Attributes
    ----------
    amplitudes : (1 + n,) of the modes; the first is the gain as a whole.
    share : of the grid, that shows the background in this light.
    """

    amplitudes: NDArray[np.float64]
    share: float


class BandFit:
    """Finds the light in which a frame shows the background.

    The modes are fitted to the median of each line against the background. Where parts fill so
    much of the picture that this explains little of it, one of the lights that were seen while
    the bands were learned may: few phases come up, and they come up again.

    Parameters
    ----------
    bands : what was learned.
    level, sigma : float32 (H, W), the background.

    Attributes
    ----------
    able : whether the background tells enough; else nothing may be asked.
    """

    def __init__(
        self, bands: Bands, level: NDArray[np.float32], sigma: NDArray[np.float32]
    ) -> None:
        self._axis = bands.axis
        most = (_LINES, _ACROSS_PX) if bands.axis == 0 else (_ACROSS_PX, _LINES)
        steps = [max(1, size // many) for size, many in zip(level.shape, most, strict=True)]
        self._where = tuple(
            slice((size - 1) % step // 2, None, step)
            for size, step in zip(level.shape, steps, strict=True)
        )
        modes = bands.modes[:, self._where[bands.axis]]
        self._near = 4 * self._sampled(sigma) + np.float32(1.5)
        self._seen = bands.seen / bands.seen[:, :1]
        self._lights = (self._seen @ modes).astype(np.float32)
        self._swing = _ROOM * float(np.abs(self._lights - 1).max())
        grid = self._sampled(level)
        telling = grid >= max(_DARK_GREY, 0.5 * float(np.median(grid)))
        self._lines, self._picked = tellers(telling)
        typical = float(np.median(self._sampled(sigma)) / np.median(grid))
        self._noise = 1.25 * typical / np.sqrt(grid.shape[1])
        self._modes = modes.astype(np.float64)
        self._over_lines = self._modes[:, self._lines]
        self.able = len(self._lines) >= 2 * len(modes) + 2
        self.renew(level)

    def renew(self, level: NDArray[np.float32]) -> None:
        """Go on with the background as slow learning left it."""
        self._level = self._sampled(level)
        picked = self._level[self._lines[:, None], self._picked]
        self._inverse = np.reciprocal(np.maximum(picked, np.float32(1)))
        over = self._modes.astype(np.float32)[:, :, None] * self._level
        self._design = over.reshape(len(over), -1)

    def find(self, pixels: NDArray[np.uint8]) -> Found:
        """Return what the medians of a frame's lines say of its light."""
        sample = self._sampled(pixels)
        ratios = sample[self._lines[:, None], self._picked] * self._inverse
        ratios.sort(axis=1)
        medians = ratios[:, ratios.shape[1] // 2].astype(np.float64)
        usual = float(np.sort(medians)[len(medians) // 2])
        likely = np.abs(medians - usual) <= self._swing * usual
        return self._refined(sample, robust(medians, self._over_lines, likely, self._noise))

    def recall(self, pixels: NDArray[np.uint8], usual: float) -> Found:
        """Return which light, of those seen while the bands were learned, shows most background.

        Parameters
        ----------
        usual : overall gain of late.
        """
        sample = self._sampled(pixels)
        lit = np.minimum(np.float32(usual) * self._lights[:, :, None] * self._level, 255)
        explained = np.count_nonzero(np.abs(sample - lit) <= self._near, axis=(1, 2))
        seen = self._seen[int(explained.argmax())]
        return self._refined(sample, seen * usual)

    def _refined(self, sample: NDArray[np.float32], amplitudes: NDArray[np.float64]) -> Found:
        """Fit once more to the pixels that show the background, each by itself."""
        flat, near = sample.reshape(-1), self._near.reshape(-1)
        best, most = amplitudes, -1
        for turn in range(_REFINED + 1):
            lit = amplitudes.astype(np.float32) @ self._design
            inside = np.abs(flat - np.minimum(lit, np.float32(255))) <= near
            count = int(np.count_nonzero(inside)) if self._likely(amplitudes) else 0
            if count >= most:
                best, most = amplitudes, count
            if turn == _REFINED:
                break
            design = self._design * (inside & (lit <= _FULL_GREY))
            normal = (design @ self._design.T).astype(np.float64)
            normal += np.eye(len(normal)) * (1e-6 * normal[0, 0] + 1)
            amplitudes = amplitudes + np.linalg.solve(normal, design @ (flat - lit))
        return Found(amplitudes=best, share=most / len(flat))

    def _likely(self, amplitudes: NDArray[np.float64]) -> bool:
        """Tell whether bands like these can be: not far beyond those that were learned."""
        whole = float(amplitudes[0])
        away = amplitudes @ self._modes - whole
        return float(np.abs(away).max()) <= self._swing * whole

    def _sampled(self, picture: Picture) -> NDArray[np.float32]:
        """Return the grid's pixels with the bands along its rows."""
        grid = picture[self._where]
        return (grid if self._axis == 0 else grid.T).astype(np.float32, order="C")
