"""The empty scene and its noise, learned from frames in which parts may be passing or standing.

Per pixel the level is the centre of the shortest interval that holds a given share of the
samples (the idea of the half-sample mode: Robertson and Cryer, J. Am. Stat. Assoc. 69 (1974)
1012), refined by the mean of the samples near it. Two thirds will do where the scene is mostly
empty; elsewhere two greys that a third of the samples show are put to the vote. So the
background is found as long as no other grey comes up more often.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray

from viscount.vision.bands import Bands, bands_between
from viscount.vision.gain import Gain, lit, within
from viscount.vision.light import gains_between, grid

MOST_SAMPLES = 48
"""Frames that the background is learned from; more would only cost time."""

LEAST_SAMPLES = 12
"""With fewer frames than this the background is in doubt."""

_FRACTIONS = 64
"""Steps per grey in the sorted stack, so that frames keep their value after gain correction."""

_BLOCK_PX = 1 << 15
"""Pixels sorted at one time; bounds the memory to some 20 MB."""

_LEAST_SIGMA = 0.5
"""Grey. Below it rounding to whole greys hides the noise (a uniform error alone has 0.29)."""

_NEAR_SIGMA, _NEAR_GREY = 4.5, 3.0
"""Samples this near the mode belong to the background."""

_THIRD_IN_SIGMA = 0.70
"""Width, in sigma, of the shortest interval with a third of 48 normal samples (simulated)."""

_WIDE_SIGMA = 6.0
"""Samples further apart than this are not one grey with noise."""


_ALIKE_SHARE, _ALIKE_FRAMES = 0.01, 8
"""Two frames are alike when no more than this share of the picture tells them apart; so many
of them are enough to learn from."""

_STRANGE_SHARE = 0.25
"""A pixel that shows something else this often has no background that goes without saying."""

_STRANGE_AREA = 0.005
"""Share of such pixels in the picture from which on the background is in doubt."""

_EMPTY_FRAMES, _EMPTY_SHARE = 3, 0.03
"""So many frames in which nearly none of these pixels shows anything else settle the doubt."""

Samples = NDArray[np.uint16]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Background:
    """The empty scene.

    Attributes
    ----------
    level : float32 (H, W), grey of the empty scene.
    sigma : float32 (H, W), standard deviation of one pixel's grey, rounding included.
    gains : (N,) relative brightness of the frames it was learned from.
    bands : the bands of light in them, or None where brightness was the same all over.
    """

    level: NDArray[np.float32]
    sigma: NDArray[np.float32]
    gains: NDArray[np.float64]
    bands: Bands | None = None


def learn_background(
    pictures: Sequence[NDArray[np.uint8]], *, alike_only: bool = False
) -> Background:
    """Learn the background from pictures of one size.

    Parameters
    ----------
    pictures : one or more, uint8 (H, W), in order of time; at most `MOST_SAMPLES` of them,
        evenly chosen, are looked at.
    alike_only : whether only the greatest group of pictures that show the same scene all over
        is asked, if there is one. An empty lead-in before a dense stream is such a group.
    """
    chosen = _evenly(pictures)
    height, width = chosen[0].shape
    bands = bands_between(chosen)
    gains = gains_between(chosen) if bands is None else bands.seen[:, 0]
    lights = _lights(gains, bands)
    asked = _alike(chosen, lights) if alike_only else np.arange(len(chosen))
    level = np.empty((height, width), np.float32)
    sigma = np.empty((height, width), np.float32)
    rows = max(1, _BLOCK_PX // width)
    for top in range(0, height, rows):
        block = slice(top, top + rows)
        stack = _stack([chosen[k] for k in asked], [lights[k] for k in asked], block)
        _mode(stack, level[block], sigma[block])
    return Background(level=level, sigma=_smooth(sigma), gains=gains, bands=bands)


def _lights(gains: NDArray[np.float64], bands: Bands | None) -> list[Gain]:
    """Return the gain of each picture, line by line where there are bands."""
    return list(gains) if bands is None else [bands.gain(seen) for seen in bands.seen]


def shows_empty_scene(
    pictures: Sequence[NDArray[np.uint8]], background: Background, threshold: NDArray[np.uint8]
) -> bool:
    """Tell whether the pictures leave no doubt about the background learned from them.

    Where much of the picture often shows something else than the background, that other
    could be the background and ours the parts. Frames in which all of it is background at
    once decide: parts do not stand everywhere at once.

    Parameters
    ----------
    pictures : those that `learn_background` was given.
    background : what it returned.
    threshold : uint8 (H, W), greatest difference that is still background.
    """
    chosen = _evenly(pictures)
    if len(chosen) < LEAST_SAMPLES:
        return False
    often: MatLike = np.zeros(threshold.shape, np.uint8)
    for foreground in _foregrounds(chosen, background, threshold):
        often += foreground > 0
    strange: MatLike = (often > _STRANGE_SHARE * len(chosen)).astype(np.uint8)
    strange = cv2.morphologyEx(strange, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    area = cv2.countNonZero(strange)
    if area < _STRANGE_AREA * strange.size:
        return True
    empty = sum(
        cv2.countNonZero(cv2.bitwise_and(foreground, strange)) <= _EMPTY_SHARE * area
        for foreground in _foregrounds(chosen, background, threshold)
    )
    return empty >= _EMPTY_FRAMES


def _foregrounds(
    pictures: Sequence[NDArray[np.uint8]], background: Background, threshold: NDArray[np.uint8]
) -> Iterator[MatLike]:
    for picture, gain in zip(pictures, _lights(background.gains, background.bands), strict=True):
        if isinstance(gain, np.ndarray):
            level = cv2.convertScaleAbs(lit(background.level, gain))
        else:
            level = cv2.convertScaleAbs(background.level, alpha=gain)
        yield cv2.compare(cv2.absdiff(picture, level), threshold, cv2.CMP_GT)


def _evenly(pictures: Sequence[NDArray[np.uint8]]) -> Sequence[NDArray[np.uint8]]:
    if len(pictures) <= MOST_SAMPLES:
        return pictures
    chosen = np.linspace(0, len(pictures) - 1, MOST_SAMPLES).round().astype(int)
    return [pictures[i] for i in chosen]


def _alike(pictures: Sequence[NDArray[np.uint8]], lights: Sequence[Gain]) -> NDArray[np.intp]:
    """Return which pictures belong to the greatest group that shows one scene all over."""
    where = grid(pictures[0].shape)
    samples = np.stack([picture[where].reshape(-1) for picture in pictures]).astype(np.float32)
    shape = pictures[0][where].shape
    for sample, gain in zip(samples, lights, strict=True):
        sample.reshape(shape)[...] /= np.float32(within(gain, *where))
    if len(samples) < _ALIKE_FRAMES:
        return np.arange(len(samples))
    # The median step between frames is 0.95 sigma; a pixel full of parts has a larger one.
    steps = np.median(np.abs(np.diff(samples, axis=0)), axis=0)
    sigma = np.minimum(steps, 3 * np.median(steps)) / np.float32(0.95)
    near = np.maximum(_NEAR_GREY, 1.5 * _NEAR_SIGMA * sigma)
    apart = np.array([(np.abs(samples - one) > near).mean(axis=1) for one in samples])
    groups = apart <= _ALIKE_SHARE
    greatest = groups[int(groups.sum(axis=1).argmax())]
    enough = greatest.sum() >= _ALIKE_FRAMES
    return np.flatnonzero(greatest) if enough else np.arange(len(samples))


def _stack(pictures: Sequence[NDArray[np.uint8]], lights: Sequence[Gain], block: slice) -> Samples:
    """Return (pixels, frames) sorted along the frames, in 1/64 grey at common brightness."""
    stack = np.empty((pictures[0][block].size, len(pictures)), np.uint16)
    for k, (picture, light) in enumerate(zip(pictures, lights, strict=True)):
        part = picture[block]
        steps = np.float32(_FRACTIONS / within(light, block, slice(None)))
        np.multiply(part, steps, out=stack[:, k].reshape(part.shape), casting="unsafe")
    stack.sort(axis=1)
    return stack


def _mode(
    stack: Samples,
    level: NDArray[np.float32],
    sigma: NDArray[np.float32],
) -> None:
    """Fill in level and sigma, in grey, of a block of pixels."""
    mode, width = _shortest(_intervals(stack, 2 / 3))
    own = _shortest(_intervals(stack, 1 / 3))[1] / _THIRD_IN_SIGMA
    noise = max(float(np.median(own)), _LEAST_SIGMA * _FRACTIONS)
    near = np.maximum(np.clip(own, noise, 2 * noise) * _NEAR_SIGMA, _NEAR_GREY * _FRACTIONS)
    torn = np.flatnonzero(width > max(_WIDE_SIGMA * noise, _NEAR_GREY * _FRACTIONS))
    if len(torn):
        mode[torn] = _elected(stack[torn], near[torn])
    away = stack - mode[:, None]
    inside = np.abs(away) <= near[:, None]
    away *= inside
    n = inside.sum(axis=1)
    mean = away.sum(axis=1) / n
    spread = np.einsum("ij,ij->i", away, away) / n - mean * mean
    spread *= n / np.maximum(n - 1, 1)
    level[...] = ((mode + mean) / _FRACTIONS).reshape(level.shape)
    sigma[...] = (np.sqrt(np.maximum(spread, 0)) / _FRACTIONS).reshape(sigma.shape)


def _intervals(stack: Samples, share: float) -> tuple[Samples, Samples, Samples]:
    """Return (pixels, intervals) low end, middle sample and width, each with this share."""
    count = stack.shape[1]
    held = max(1, round(share * count))
    last = count - held + 1
    low, high = stack[:, :last], stack[:, held - 1 :]
    return low, stack[:, held // 2 :][:, :last], high - low


def _shortest(
    intervals: tuple[Samples, Samples, Samples],
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return middle and width of the shortest interval."""
    _, middles, widths = intervals
    # Whole greys make ties: take the middle between the first and the last one, unless they
    # are so far apart that they belong to two greys.
    first = widths.argmin(axis=1)
    last = widths.shape[1] - 1 - widths[:, ::-1].argmin(axis=1)
    at = np.arange(len(widths))
    low, high = middles[at, first].astype(np.float32), middles[at, last].astype(np.float32)
    middle = np.where(high - low <= _NEAR_GREY * _FRACTIONS, (low + high) / 2, low)
    return middle, widths[at, first].astype(np.float32)


def _elected(stack: Samples, near: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return, of the two narrowest greys of each pixel, the one that more samples show."""
    low, middles, widths = _intervals(stack, 1 / 3)
    one, _ = _shortest((low, middles, widths))
    apart = (low > (one + near)[:, None]) | (low + widths < (one - near)[:, None])
    other, _ = _shortest((low, middles, np.where(apart, widths, np.uint16(0xFFFF))))
    votes = [(np.abs(stack - grey[:, None]) <= near[:, None]).sum(axis=1) for grey in (one, other)]
    return np.where(apart.any(axis=1) & (votes[1] > votes[0]), other, one)


def _smooth(sigma: NDArray[np.float32]) -> NDArray[np.float32]:
    """Pool the noise over 5 x 5 px, but let a single restless pixel keep its own."""
    pooled = np.sqrt(cv2.blur(sigma * sigma, (5, 5), borderType=cv2.BORDER_REFLECT_101))
    smooth: NDArray[np.float32] = np.maximum(np.maximum(pooled, sigma / 1.25), _LEAST_SIGMA)
    return smooth
