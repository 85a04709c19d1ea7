"""The light: how bright a frame is against the background, told from a sparse grid of pixels.

Most of the grid must show the background; parts are outliers.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.vision.bandfit import BandFit
from viscount.vision.bands import Bands
from viscount.vision.gain import Gain

_GRID_PX = 600
"""Pixels on the grid, about."""

_TELLING_GREY, _TELLING_PX = 8.0, 16
"""A darker pixel says nothing about a ratio of brightness; so many others are needed."""

_NOTICEABLE = 0.35
"""Grey. A smaller change of the whole picture is left alone."""

_LEAST_GAIN, _GREATEST_GAIN = 0.6, 1.6
"""Beyond these the noise and the parts' contrast are no longer those that were learned."""

_KNOWN, _EXPLAINED = 0.3, 0.5
"""Share of the grid that must show the background in the light of the frame before, or in
another one: a frame full of parts is no reason to think of new light."""

_SURE = 0.9
"""Where so much of it shows the background under bands of light, no others are tried."""

_DARKNESS = 0.35
"""At less than this share of its light a scene cannot show what it showed."""

_JUMP, _JUMP_GREY = 0.05, 5.0
"""Change, beyond the usual flicker, that is called sudden: relative, and at least in grey."""

_USUAL = 9
"""Frames whose median brightness is the usual one. Less than half of them make no change."""

_SETTLING = 24
"""Frames after a sudden change in which no second one is told."""


def grid(shape: tuple[int, ...]) -> tuple[slice, slice]:
    """Return the sparse, centred grid on a picture of this shape."""
    step = max(1, int(np.sqrt(shape[0] * shape[1] / _GRID_PX)))
    rows, columns = (slice((size - 1) % step // 2, None, step) for size in shape)
    return rows, columns


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
    return np.flatnonzero(level >= max(_TELLING_GREY, 0.5 * float(np.median(level))))


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
    change = error = 0.0
    for _ in range(2):
        reference = _median(samples / gains.astype(np.float32)[:, None])
        telling = _telling(reference)
        if len(telling) < _TELLING_PX:
            return np.ones(len(pictures))
        level = reference[telling]
        typical = float(np.median(level))
        centres = [_centre(row[telling] / level, 0.5 / typical) for row in samples]
        gains = np.array([centre for centre, _ in centres])
        gains /= np.median(gains)
        change = float(np.std(gains)) * typical
        error = float(np.median([spread for _, spread in centres])) * typical
        error /= np.sqrt(len(telling))
    return gains if change > _NOTICEABLE / 2 + 3 * error else np.ones(len(pictures))


def flicker(gains: NDArray[np.float64]) -> float:
    """Return the greatest departure from the running median: flicker, but not steps."""
    around = np.lib.stride_tricks.sliding_window_view(
        np.pad(gains, _USUAL // 2, mode="reflect" if len(gains) > _USUAL else "edge"), _USUAL
    )
    return float(np.abs(gains - np.median(around, axis=1)).max())


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What the grid says of one frame.

    Attributes
    ----------
    explained : the frame is the background in some light, with parts in front of it.
    jumped : the light changed at once, by more than it ever flickered.
    """

    explained: bool
    jumped: bool = False


_PLAIN, _JUMPED, _STRANGE = (
    Reading(explained=True),
    Reading(explained=True, jumped=True),
    Reading(explained=False),
)


class Light:
    """Follows the brightness of the whole picture, and of its lines where there are bands.

    Parameters
    ----------
    level, sigma : float32 (H, W), the background.
    gains : (N,) brightness of the frames that it was learned from, in order of time.
    bands : the bands of light that were found in them, if any.

    Attributes
    ----------
    gain : brightness of the last frame that could be explained, as a whole.
    """

    def __init__(
        self,
        level: NDArray[np.float32],
        sigma: NDArray[np.float32],
        gains: NDArray[np.float64],
        bands: Bands | None = None,
    ) -> None:
        self.gain = 1.0
        self._bands, self._fit = bands, None
        self._flicker = flicker(gains)
        self._recent: deque[float] = deque(maxlen=_USUAL)
        self._since_jump = _SETTLING
        self._where = grid(level.shape)
        self._level = level[self._where].reshape(-1)
        self._telling = _telling(self._level)
        self._able = len(self._telling) >= _TELLING_PX
        self._typical = float(np.median(self._level[self._telling])) if self._able else 0.0
        noise = sigma[self._where].reshape(-1)
        self._near = 4 * noise + np.float32(1.5)
        error = float(np.median(noise)) / np.sqrt(max(len(self._telling), 1))
        self._noticeable = _NOTICEABLE + 3 * error
        if bands is not None and self._able:
            fit = BandFit(bands, level, sigma)
            self._fit = fit if fit.able else None
            self._amplitudes = np.eye(len(bands.modes))[0]
        self.renew(level)

    @property
    def brightness(self) -> Gain:
        """Brightness of that frame line by line where there are bands, else `gain`."""
        if self._bands is None or self._fit is None:
            return self.gain
        return self._bands.gain(self._amplitudes)

    def renew(self, level: NDArray[np.float32], taken: float = 1.0) -> None:
        """Go on with the background as slow learning left it.

        Parameters
        ----------
        level : the background.
        taken : the part of `gain` that the background has taken into itself.
        """
        self.gain /= taken
        self._recent = deque((gain / taken for gain in self._recent), maxlen=_USUAL)
        self._level = level[self._where].reshape(-1)
        telling = np.maximum(self._level[self._telling], np.float32(1))
        self._inverse: NDArray[np.float32] = np.reciprocal(telling)
        self._lit = self._level * np.float32(self.gain)
        if self._fit is not None:
            self._amplitudes = self._amplitudes / taken
            self._fit.renew(level)

    def darkened(self, level: NDArray[np.float32]) -> bool:
        """Tell whether another background shows this scene with its light gone."""
        if not self._able:
            return False
        now = float(np.median(level[self._where].reshape(-1)[self._telling]))
        return now < _DARKNESS * self._typical

    def read(self, pixels: NDArray[np.uint8]) -> Reading:
        """Look at one frame and set `gain` and `brightness` to its own."""
        if self._fit is not None:
            return self._read_bands(pixels, self._fit)
        sample = pixels[self._where].reshape(-1).astype(np.float32)
        away = sample - self._lit
        inside = np.abs(away) <= self._near
        count = int(np.count_nonzero(inside))
        known = count >= _KNOWN * len(sample)
        if not self._able:
            return _PLAIN if known else _STRANGE
        if known and abs(float(np.dot(away, inside))) <= self._noticeable * count:
            return self._follow(self.gain)
        gain, _ = _centre(sample[self._telling] * self._inverse, 0.5 / self._typical)
        if abs(gain - 1) * self._typical < self._noticeable / 2:
            gain = 1.0
        lit = self._level * np.float32(gain)
        inside = np.abs(sample - np.minimum(lit, 255)) <= self._near
        if _LEAST_GAIN <= gain <= _GREATEST_GAIN and np.count_nonzero(inside) >= _EXPLAINED * len(
            sample
        ):
            self._lit = lit
            return self._follow(gain)
        return self._follow(self.gain) if known else _STRANGE

    def _read_bands(self, pixels: NDArray[np.uint8], fit: BandFit) -> Reading:
        """Look at a frame whose light is new line by line."""
        found, least = fit.find(pixels), _EXPLAINED
        possible = _LEAST_GAIN <= found.amplitudes[0] <= _GREATEST_GAIN
        if not possible or found.share < _SURE:
            usual = sorted(self._recent)[len(self._recent) // 2] if self._recent else self.gain
            seen = fit.recall(pixels, usual)
            if not possible or seen.share > found.share:
                found, least = seen, _KNOWN
        if found.share < least:
            return _STRANGE
        self._amplitudes = found.amplitudes
        return self._follow(float(found.amplitudes[0]))

    def _follow(self, gain: float) -> Reading:
        """Take this gain, and tell whether it is a sudden change."""
        step = abs(gain - self.gain)
        self.gain = gain
        self._since_jump += 1
        recent = self._recent
        recent.append(gain)
        if recent.count(gain) == len(recent):
            return _PLAIN
        away = abs(gain - sorted(recent)[len(recent) // 2])
        if self._since_jump <= _SETTLING:
            if self._since_jump > _USUAL:
                self._flicker = max(self._flicker, away)
            return _PLAIN
        # A step is far from the frame before; flicker is that too, but near to the usual.
        if min(step, away - 1.5 * self._flicker) <= max(_JUMP, _JUMP_GREY / self._typical):
            return _PLAIN
        self._since_jump = 0
        return _JUMPED
