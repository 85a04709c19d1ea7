"""The few patterns of brightness over lines that all frames are made of, if light made them."""

import numpy as np
from numpy.typing import NDArray

from viscount.vision.profiles import Profiles

_MOST_MODES = 6
"""Three harmonics of a lamp."""

_CLEAR = 2.5
"""A mode stands so far above the greatest singular value of mere noise."""

_BAND_GREY, _BAND_SIGMA = 1.0, 0.3
"""Bands that swing by less than this, in grey or in sigma of a pixel, are left alone."""

_ALIKE = 0.7
"""Light falls on whole lines: each stretch of them swings as far as the whole, but for this
factor. A background that shakes swings here and there."""

_SPREAD = 0.12
"""Light swings in all frames and over the whole picture: the mean square, squared, over the mean
fourth power is 2/3 for a wave, 1/3 at random. Parts are few and pass."""

_RESTLESS = 0.1
"""Squared steps from frame to frame over squared swing: 2 at random, and for a lamp that goes on
by p cycles from frame to frame 2 - 2 cos(2 pi p), which makes this a twentieth. What changes
more slowly (shadows, a camera's own control) is no lamp, and slow learning follows it."""

_OUTLYING = 4.0
"""Lines this many sigma from the pattern show something else than the background."""

_SWEEPS, _WEIGHINGS = 9, 6


def patterns_in(of: Profiles) -> NDArray[np.float64]:
    """Return the patterns (n, lines) that stand clear of the noise, as long as they swing far.

    What does not fit them (parts that fill most of a line) is put in line with them, again and
    again, so that it bends none. At first what most lines do is all that counts, and the two
    patterns of a plain wave are all that is looked for.
    """
    given = of.ratios - np.median(of.ratios, axis=1)[:, None]
    bound = _OUTLYING * max(_sigma(given), of.noise)
    filled = np.where(of.known & (np.abs(given) <= bound), given, 0)
    edge = _CLEAR * of.noise * float(np.sqrt(given.shape).sum())
    for sweep in range(_SWEEPS):
        filled = filled - filled.mean(axis=1)[:, None]
        # The singular value decomposition, by way of the few pictures.
        squares, left = np.linalg.eigh(filled @ filled.T)
        most = min(2 + 2 * sweep // 3, _MOST_MODES)
        left = left[:, squares > edge * edge][:, : -most - 1 : -1]
        if not left.size:
            return np.empty((0, filled.shape[1]))
        modes = left.T @ filled
        fitted = left @ modes
        away = given - fitted
        away -= np.median(away, axis=1)[:, None]
        spread = max(_sigma(away), of.noise)
        fits = of.known & (np.abs(away) <= _OUTLYING * spread)
        filled = np.where(fits, fitted + away, fitted)
    light: NDArray[np.float64] = modes[_are_light(of, fits, left.T, modes)]
    return light


def _sigma(away: NDArray[np.float64]) -> float:
    """Return the spread of what lies around 0, with a quarter of it lying anywhere."""
    return float(np.quantile(np.abs(away), 0.75)) / 1.15


def _are_light(
    of: Profiles,
    fits: NDArray[np.bool_],
    frames: NDArray[np.float64],
    modes: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Return which patterns over frames (n, N) and lines (n, lines) the light makes."""

    def swing(ratios: NDArray[np.float64]) -> NDArray[np.float64]:
        kept = np.where(fits, ratios - 1, 0)
        return np.asarray(np.einsum("jl,jl->j", frames @ kept, modes))

    whole = swing(of.ratios)
    greatest = np.abs(frames).max(axis=1) * np.abs(modes).max(axis=1) * of.grey
    light = greatest >= max(_BAND_GREY, _BAND_SIGMA * of.pixel_noise * of.grey)
    light &= (_spread(frames) >= _SPREAD) & (_spread(modes) >= _SPREAD)
    steps = np.square(np.diff(frames, axis=1)).sum(axis=1)
    light &= steps >= _RESTLESS * frames.var(axis=1) * frames.shape[1]
    for stretch in of.stretches:
        share = swing(stretch) / whole
        light &= (share >= _ALIKE) & (share <= 1 / _ALIKE)
    return np.asarray(light)


def _spread(patterns: NDArray[np.float64]) -> NDArray[np.float64]:
    squares = np.square(patterns)
    return np.asarray(squares.mean(axis=1) ** 2 / np.square(squares).mean(axis=1))


def robust(
    values: NDArray[np.float64],
    basis: NDArray[np.float64],
    likely: NDArray[np.bool_],
    noise: float,
) -> NDArray[np.float64]:
    """Return the amplitudes (m,) of the basis (m, n) that fit the bulk of the values (n,).

    Least squares, weighted again and again as long as some are far off: from least absolute
    deviations on to Tukey's biweight (Beaton and Tukey, Technometrics 16 (1974) 147).

    Parameters
    ----------
    likely : (n,) values to begin with, if they are half of all or more.
    noise : what is nearer than four times this is not far off.
    """
    enough = 2 * np.count_nonzero(likely) >= len(values)
    weights = np.where(likely, 1.0, 0.0) if enough else np.ones(len(values))
    amplitudes: NDArray[np.float64] = np.zeros(len(basis))
    steady = np.eye(len(basis)) * 1e-9
    for turn in range(_WEIGHINGS):
        weighted = basis * weights
        normal = weighted @ basis.T
        amplitudes = np.linalg.solve(normal + normal[0, 0] * steady, weighted @ values)
        away = np.abs(values - amplitudes @ basis)
        if float(away.max()) <= _OUTLYING * noise:
            break
        spread = 1.4826 * float(np.sort(away)[len(away) // 2]) + 1e-9
        if turn < _WEIGHINGS // 2:
            weights = 1 / np.maximum(away, spread / 4)
        else:
            weights = np.square(np.maximum(1 - np.square(away / (4.7 * spread)), 0))
    return amplitudes
