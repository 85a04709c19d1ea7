"""The brightness of a picture's lines, frame by frame, without the parts in front of them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.vision.gain import Gain, within

_ACROSS_PX = 24
"""Pixels of each line that are looked at, about."""

_TELLING_GREY, _FULL_GREY = 8.0, 250.0
"""Darker pixels have no ratio, brighter ones no room for more light."""

_TELLING_PX = 6
"""A line with fewer pixels that tell is left to its neighbours."""

_LEAST_LINES = 8
"""From fewer lines, or less than half of them, nothing is told."""

_INSIDE_SIGMA, _INSIDE = 3.5, 0.75
"""A line of which fewer pixels than this share agree has parts in front of it."""

_OFTEN = 0.5
"""A line that has them more often is left to its neighbours."""

_STRETCHES = 3
"""Stretches of each line that are looked at by themselves."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profiles:
    """The brightness of lines, picture by picture, against the usual one.

    Attributes
    ----------
    ratios : (N, lines), and `known` where nothing is in front of the line.
    stretches : (thirds, N, lines) the same for each third of the lines.
    noise, pixel_noise : sd of a ratio, and of that of one pixel.
    grey : the usual brightness.
    lines : which lines of the picture they are.
    """

    ratios: NDArray[np.float64]
    known: NDArray[np.bool_]
    stretches: NDArray[np.float64]
    noise: float
    pixel_noise: float
    grey: float
    lines: NDArray[np.intp]


def tellers(telling: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return which lines have enough pixels that tell, and which pixels (lines, across) those are.

    Lines with fewer of them than the others name some twice.
    """
    rows = np.flatnonzero(telling.sum(axis=1) >= _TELLING_PX)
    width = telling.shape[1]
    picked = [np.resize(np.flatnonzero(telling[row]), width) for row in rows]
    return rows, np.array(picked, np.intp).reshape(len(rows), width)


def profiles(
    pictures: Sequence[NDArray[np.uint8]],
    axis: int,
    most_lines: int,
    lights: Sequence[Gain] | None = None,
) -> Profiles | None:
    """Return the brightness of lines, or None where too few of them tell.

    Parameters
    ----------
    pictures : uint8 (H, W), all of one size.
    axis : 0 for rows, 1 for columns.
    most_lines : about so many of them are looked at, evenly chosen.
    lights : the gain of each picture, where it is known already.
    """
    height, width = pictures[0].shape
    wanted = (most_lines, _ACROSS_PX) if axis == 0 else (_ACROSS_PX, most_lines)
    steps = [max(1, round(size / most)) for size, most in zip((height, width), wanted, strict=True)]
    rows, columns = (
        slice((size - 1) % step // 2, None, step)
        for size, step in zip((height, width), steps, strict=True)
    )
    samples = np.stack([picture[rows, columns] for picture in pictures])
    even = samples
    if lights is not None:
        even = samples / np.stack([within(light, rows, columns) for light in lights])
    if axis == 1:
        samples, even = samples.transpose(0, 2, 1), even.transpose(0, 2, 1)
    reference = np.median(even, axis=0)
    typical = float(np.median(reference))
    telling = (reference >= max(_TELLING_GREY, typical / 2)) & (reference <= _FULL_GREY)
    lines, picked = tellers(telling)
    if len(lines) < max(_LEAST_LINES, _OFTEN * len(telling)):
        return None
    at = lines[:, None], picked
    ratios = samples[:, *at] / reference[at].astype(np.float32)
    away = np.abs(ratios - np.median(ratios, axis=2)[:, :, None])
    pixel_noise = max(1.4826 * float(np.median(away)), 0.3 / typical)
    inside = away <= _INSIDE_SIGMA * pixel_noise
    known = inside.mean(axis=2) >= _INSIDE
    often = known.mean(axis=0) >= _OFTEN
    if np.count_nonzero(often) < max(_LEAST_LINES, _OFTEN * len(often)):
        return None
    kept, inside = np.where(inside, ratios, 0)[:, often], inside[:, often]
    thirds = np.array_split(np.arange(picked.shape[1]), _STRETCHES)
    first = (rows if axis == 0 else columns).start
    return Profiles(
        ratios=_means(kept, inside),
        known=known[:, often],
        stretches=np.stack([_means(kept[:, :, part], inside[:, :, part]) for part in thirds]),
        noise=pixel_noise / np.sqrt(picked.shape[1]),
        pixel_noise=pixel_noise,
        grey=typical,
        lines=first + steps[axis] * lines[often],
    )


def _means(kept: NDArray[np.float32], inside: NDArray[np.bool_]) -> NDArray[np.float64]:
    means = kept.sum(axis=2) / np.maximum(inside.sum(axis=2), 1.0)
    return np.asarray(means, np.float64)
