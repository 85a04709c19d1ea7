"""The light: how bright a frame is against the background, told from a sparse grid of pixels.

Most of the grid must show the background; parts are outliers.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_GRID_PX = 1000
"""Pixels on the grid, about."""

_DARK = 8.0
"""Grey below which a pixel says nothing about a ratio of brightness."""

_NOTICEABLE = 0.35
"""Grey. A smaller change of the whole picture is left alone."""

LEAST_GAIN, GREATEST_GAIN = 0.6, 1.6
"""Outside these the noise and the parts' contrast are no longer those that were learned."""

_EXPLAINED = 0.5
"""Share of the grid that must show the background, or the frame is not understood."""

_JUMP = 0.05
"""Relative change from one frame to the next that is called sudden."""

_SETTLING = 24
"""Frames after a sudden change in which no second one is told."""


def grid(shape: tuple[int, ...]) -> tuple[slice, slice]:
    """Return the sparse, centred grid on a picture of this shape."""
    step = max(1, int(np.sqrt(shape[0] * shape[1] / _GRID_PX)))
    return slice((shape[0] - 1) % step // 2, None, step), slice(
        (shape[1] - 1) % step // 2, None, step
    )


def _centre(ratios: NDArray[np.float32], rounding: float) -> tuple[float, float]:
    """Return centre and spread of the bulk of the ratios.

    The shortest half of the sample finds the bulk (Rousseeuw and Leroy, Stat. Neerl. 42
    (1988) 103); the mean of what lies within 3 sigma of it is the centre.
    """
    ordered = np.sort(ratios)
    half = len(ordered) // 2
    widths = ordered[half:] - ordered[: len(ordered) - half]
    first = int(widths.argmin())
    spread = max(float(widths[first]) / 1.349, rounding)
    middle = float(ordered[first : first + half + 1].mean())
    low, high = np.searchsorted(ordered, (middle - 3 * spread, middle + 3 * spread))
    return float(ordered[low:high].mean()), spread


def _telling(level: NDArray[np.float32]) -> NDArray[np.intp]:
    """Return the indices of the pixels bright enough to tell a ratio."""
    return np.flatnonzero(level >= max(_DARK, 0.5 * float(np.median(level))))


def _median(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    median: NDArray[np.float32] = np.median(samples, axis=0)
    return median


def gains_between(pictures: Sequence[NDArray[np.uint8]]) -> NDArray[np.float64]:
    """Return the brightness of each picture against their common median; 1 where all agree.

    Parameters
    ----------
    pictures : uint8 (H, W), all of one size.
    """
    where = grid(pictures[0].shape)
    samples = np.stack([picture[where].reshape(-1) for picture in pictures]).astype(np.float32)
    gains: NDArray[np.float64] = np.ones(len(pictures))
    error = 0.0
    for _ in range(2):
        reference = _median(samples / gains.astype(np.float32)[:, None])
        telling = _telling(reference)
        if len(telling) < 16:
            return np.ones(len(pictures))
        level = reference[telling]
        typical = float(np.median(level))
        centres = [_centre(row[telling] / level, 0.5 / typical) for row in samples]
        gains = np.array([centre for centre, _ in centres])
        gains /= np.median(gains)
        error = float(np.median([spread for _, spread in centres])) / np.sqrt(len(telling))
    if float(np.std(gains)) * typical < _NOTICEABLE / 2 + 3 * error * typical:
        return np.ones(len(pictures))
    return gains


@dataclass(slots=True, kw_only=True)
class Reading:
    """What the grid says of one frame.

    Attributes
    ----------
    explained : the frame is the background in some light, with parts in front of it.
    jumped : the light changed at once, further than it had ever been.
    changed : the gain is another one than for the frame before.
    """

    explained: bool
    jumped: bool = False
    changed: bool = False


class Light:
    """Follows the brightness of the whole picture.

    Parameters
    ----------
    level, sigma : float32 (H, W), the background.
    gains : brightness of the frames that it was learned from.
    """

    def __init__(
        self,
        level: NDArray[np.float32],
        sigma: NDArray[np.float32],
        gains: NDArray[np.float64],
    ) -> None:
        self.gain = 1.0
        self._where = grid(level.shape)
        self._sigma = sigma[self._where].reshape(-1)
        self._low, self._high = float(gains.min()), float(gains.max())
        self._settling = 0
        self._level = level[self._where].reshape(-1)
        self._telling = _telling(self._level)
        self._able = len(self._telling) >= 16
        telling = self._level[self._telling]
        self._inverse = (1 / telling).astype(np.float32)
        self._typical = float(np.median(telling)) if self._able else 0.0
        self._near = 4 * self._sigma + 1.5
        error = float(np.median(self._sigma)) / np.sqrt(max(len(self._telling), 1))
        self._noticeable = _NOTICEABLE + 3 * error
        self._lit()

    def renew(self, level: NDArray[np.float32]) -> None:
        """Take the background as it has become by slow learning."""
        self._level = level[self._where].reshape(-1)
        self._inverse = (1 / self._level[self._telling]).astype(np.float32)
        self._lit()

    def _lit(self) -> None:
        self._now = self._level * np.float32(self.gain)

    def read(self, pixels: NDArray[np.uint8]) -> Reading:
        """Look at one frame and set `gain`."""
        sample = pixels[self._where].reshape(-1).astype(np.float32)
        away = sample - self._now
        inside = np.abs(away) <= self._near
        count = int(np.count_nonzero(inside))
        enough = count >= _EXPLAINED * len(sample)
        if not self._able:
            return Reading(explained=enough)
        if enough and abs(float(np.dot(away, inside))) <= self._noticeable * count:
            return self._quiet()
        return self._search(sample)

    def _quiet(self) -> Reading:
        self._settling = max(0, self._settling - 1)
        return Reading(explained=True)

    def _search(self, sample: NDArray[np.float32]) -> Reading:
        gain, _ = _centre(sample[self._telling] * self._inverse, 0.5 / self._typical)
        before = self.gain
        if not LEAST_GAIN <= gain <= GREATEST_GAIN:
            return Reading(explained=False)
        if abs(gain - 1) * self._typical < self._noticeable / 2:
            gain = 1.0
        self.gain = gain
        self._lit()
        # The noise of light grows with its root; clipped pixels stay where they are.
        inside = np.abs(sample - np.minimum(self._now, 255)) <= self._near
        if np.count_nonzero(inside) < _EXPLAINED * len(sample):
            self.gain = before
            self._lit()
            return Reading(explained=False)
        beyond = not self._low - _JUMP / 2 <= gain <= self._high + _JUMP / 2
        jumped = beyond and abs(gain - before) > _JUMP and not self._settling
        self._settling = _SETTLING if jumped else max(0, self._settling - 1)
        self._low, self._high = min(self._low, gain), max(self._high, gain)
        return Reading(explained=True, jumped=jumped, changed=gain != before)
