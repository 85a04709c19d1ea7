"""The wave that bands of light are: so many cycles per picture, and harmonics."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_LEAST_CYCLES, _CYCLES_APART = 0.1, 0.1
"""Waves that are tried, in cycles per picture: the longest, and from one to the next at first."""

_FINER, _PASSES = 5, 3

_HARMONICS = 3
"""What a lamp has that is switched on and off, but for its edges."""

_WAVE, _LITTLE = 0.8, 0.02
"""Bands are a wave when it explains so much of their squares. Harmonics are taken up where they
explain half of the rest (parts in front leave some, but no harmonics), save so little."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave:
    """A wave along one side of the picture: its cycles over that side, 1 and more harmonics."""

    cycles: float
    harmonics: int

    def over(self, size: int) -> NDArray[np.float64]:
        """Return (2 harmonics, size) its modes over all lines: of mean 0, mean square 1, and
        at right angles to each other."""
        _, modes = np.split(_waves(np.arange(size) / size, self.cycles, self.harmonics), [1])
        modes -= modes.mean(axis=1)[:, None]
        upright: NDArray[np.float64] = np.linalg.qr(modes.T)[0].T * np.sqrt(size)
        return upright


def wave_in(
    places: NDArray[np.float64], patterns: NDArray[np.float64], most_cycles: float
) -> Wave | None:
    """Return the wave of which patterns consist, or None where they are something else.

    Parameters
    ----------
    places : (lines,) from 0 to 1 over the picture.
    patterns : (n, lines), weighted by what each is worth.
    most_cycles : finer waves are none.
    """
    cycles, share, apart = 0.0, 0.0, _CYCLES_APART
    tried = np.arange(_LEAST_CYCLES, most_cycles, apart)
    if not len(tried):
        return None
    for _ in range(_PASSES):
        shares = [_explained(places, patterns, each, 1) for each in tried]
        cycles, share = float(tried[int(np.argmax(shares))]), max(shares)
        apart /= _FINER
        tried = np.maximum(cycles + np.arange(1 - _FINER, _FINER) * apart, _LEAST_CYCLES)
    if share < _WAVE:
        return None
    most = max(1, min(_HARMONICS, int(most_cycles / cycles)))
    known = [_explained(places, patterns, cycles, 1 + more) for more in range(most)]
    harmonics = 1
    if known[-1] - known[0] >= (1 - known[0]) / 2:
        harmonics += next(k for k, each in enumerate(known) if known[-1] - each <= _LITTLE)
    return Wave(cycles=cycles, harmonics=harmonics)


def _explained(
    places: NDArray[np.float64], patterns: NDArray[np.float64], cycles: float, harmonics: int
) -> float:
    """Return the share of the patterns' squares that a wave explains, by least squares."""
    waves = _waves(places, cycles, harmonics)
    normal = waves @ waves.T + np.eye(len(waves)) * (1e-9 * len(places))
    right = waves @ patterns.T
    squares = float(np.vdot(right, np.linalg.solve(normal, right)))
    return squares / float(np.square(patterns).sum())


def _waves(places: NDArray[np.float64], cycles: float, harmonics: int) -> NDArray[np.float64]:
    """Return (1 + 2 harmonics, places) the constant and the waves, 0 in the picture's middle."""
    angles = 2 * np.pi * cycles * np.arange(1, harmonics + 1)[:, None] * (places - 0.5)
    return np.concatenate([np.ones((1, len(places))), np.cos(angles), np.sin(angles)])
