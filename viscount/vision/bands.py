"""Bands of light: flicker that a rolling shutter spreads over the lines of a picture.

Lines that are read one after another see a lamp at different moments of its period. Under light
that swings as 1 + A sin(2 pi f t) the line u of frame k, exposed at t_k + u T, has the brightness
1 + A sin(2 pi f t_k) cos(2 pi f T u) + A cos(2 pi f t_k) sin(2 pi f T u): over all frames there
are but two patterns, whatever the phases (a lamp that is switched on and off has two more for
each harmonic). So the brightness of lines against frames is a matrix of low rank; its singular
vectors are the patterns, and tell the wave. Nothing need be known of lamp, shutter or clock.
Gamma, and a reference that has bands of its own, change that by terms of A squared only.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from viscount.vision.gain import Gain
from viscount.vision.patterns import patterns_in, robust
from viscount.vision.profiles import Profiles, profiles
from viscount.vision.wave import wave_in

_LEAST_PICTURES = 12
"""From fewer pictures no pattern is learned."""

_COARSE_LINES = 32
"""Lines, about, that are looked at to find out whether there are bands."""

_SHORTEST_PX = 8
"""Finer bands than of so many lines are none."""

_ROUNDS = 2
"""Where parts often stand the usual brightness is found better once the bands are known."""

_LEAST_GAIN = 0.3
"""Where it is darker than this nothing is seen."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bands:
    """The patterns that the light makes over the lines of a picture.

    Attributes
    ----------
    axis : 0 where brightness differs from row to row, 1 from column to column.
    modes : float32 (1 + n, lines), the first all 1, each other one with the mean 0.
    seen : (N, 1 + n) amplitudes of the modes in the pictures they were learned from.
    """

    axis: int
    modes: NDArray[np.float32]
    seen: NDArray[np.float64]

    def gain(self, amplitudes: NDArray[np.float64]) -> Gain:
        """Return the gain of a picture in which the modes have these amplitudes."""
        lines = np.maximum(amplitudes @ self.modes, _LEAST_GAIN).astype(np.float32)
        return lines[:, None] if self.axis == 0 else lines[None, :]


def bands_between(pictures: Sequence[NDArray[np.uint8]]) -> Bands | None:
    """Return the bands of light in these pictures of one scene, or None where there are none.

    Parameters
    ----------
    pictures : uint8 (H, W), all of one size; parts may be in front of the scene.
    """
    if len(pictures) < _LEAST_PICTURES:
        return None
    found = []
    for axis in (0, 1):
        coarse = profiles(pictures, axis, _COARSE_LINES)
        if coarse is not None:
            modes = patterns_in(coarse)
            if len(modes):
                found.append((float(np.square(modes).sum()), axis))
    if not found:
        return None
    _, axis = max(found)
    size = pictures[0].shape[axis]
    bands: Bands | None = None
    lights: list[Gain] | None = None
    for _ in range(_ROUNDS):
        fine = profiles(pictures, axis, size, lights)
        bands = None if fine is None else _learned(fine, axis, size)
        if bands is None:
            return None
        lights = [bands.gain(seen) for seen in bands.seen]
    return bands


def _learned(fine: Profiles, axis: int, size: int) -> Bands | None:
    """Return the bands over all lines of a picture that has so many."""
    modes = patterns_in(fine)
    if not len(modes):
        return None
    # Against the mean light (not that of any picture, nor a median's patchwork of several) the
    # patterns hold the constant one, which a change of the whole light needs.
    usual = np.mean(_amplitudes(fine, modes) @ _with_whole(modes), axis=0)
    fine = replace(fine, ratios=fine.ratios / usual, stretches=fine.stretches / usual)
    modes = patterns_in(fine)
    if not len(modes):
        return None
    wave = wave_in(fine.lines / size, modes, size / _SHORTEST_PX)
    if wave is None:
        return None
    over = wave.over(size)
    seen = _amplitudes(fine, over[:, fine.lines])
    return Bands(axis=axis, modes=_with_whole(over).astype(np.float32), seen=seen)


def _with_whole(modes: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.vstack([np.ones(modes.shape[1]), modes])


def _amplitudes(of: Profiles, modes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (N, 1 + n) how bright each picture is as a whole, and in each mode."""
    basis = _with_whole(modes)
    each = zip(of.ratios, of.known, strict=True)
    return np.array([robust(ratios, basis, known, of.noise) for ratios, known in each])
