"""Flicker: a light that comes and goes, told from the brightness of rows and columns of cells.

The strongest frequency is that of the greatest power, summed over all rows and columns, of the
least-squares spectrum. How its phase runs over the picture tells a rolling shutter, whose lines
are exposed one after another, from a global one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]

MOST_FRAMES = 1024
"""Frames that are looked at; more would say the same."""

LEAST_FRAMES = 32

STANDS_OUT = 0.35
"""Share of all unrest that the strongest frequency must hold."""

_SLOWEST_CYCLES = 3.0
"""Fewer cycles in the clip than this are a drift."""

_SLOPE_SPAN = 0.5
"""Rad over the whole picture below which the phase does not run at all."""

_PHASE_SCATTER = 0.35
"""Rad by which phases may scatter about their line."""

_STEEPEST, _SLOPES = 0.9 * np.pi, 1441
"""Slopes of the phase that are tried out, up to so many rad from cell to cell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bands:
    """How flicker lies over the picture of a rolling shutter.

    Attributes
    ----------
    vertical : the phase runs down or up the picture, else across it.
    cells_per_cycle : pitch of the bands in cells, > 0.
    """

    vertical: bool
    cells_per_cycle: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Flicker:
    """The strongest frequency in the light.

    Attributes
    ----------
    seen_hz : frequency in the frames, 0 to half their rate: an alias of the light's own.
    resolution_hz : one over the time looked at.
    percent : amplitude relative to the light.
    bands : None where the whole picture flickers at once.
    """

    seen_hz: float
    resolution_hz: float
    percent: float
    bands: Bands | None


def flicker(t_s: Floats, rows: Floats, columns: Floats) -> Flicker | None:
    """Return the flicker of the light, or None where none stands out of the noise.

    Parameters
    ----------
    t_s : (n,) times of the frames, ascending.
    rows, columns : (n, r) and (n, c) light of each line of cells relative to the empty
        scene's; steps and drift taken off. Lines with NaN are left out.
    """
    n = t_s.size
    if n < LEAST_FRAMES or not t_s[-1] > t_s[0]:
        return None
    span_s = float(t_s[-1] - t_s[0])
    frequencies = np.arange(_SLOWEST_CYCLES / span_s, 0.5 * n / span_s, 0.5 / span_s)
    sides = [_side(t_s, lines, frequencies) for lines in (rows, columns)]
    # Bands average out across themselves: the side that shows more of them tells.
    clearest = max(sides, key=lambda side: side.share)
    if clearest.share < STANDS_OUT:
        return None
    waves = [_wave(t_s, side, clearest.peak_hz) for side in sides]
    return Flicker(
        seen_hz=clearest.peak_hz,
        resolution_hz=1.0 / span_s,
        percent=100.0 * _strength(*waves),
        bands=_bands(*waves),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Side:
    """Lines of cells, trend taken off; which of them tell; and their strongest frequency."""

    lines: Floats
    known: NDArray[np.bool_]
    peak_hz: float
    share: float


def _side(t_s: Floats, lines: Floats, frequencies: Floats) -> _Side:
    known = np.asarray(np.isfinite(lines).all(axis=0))
    kept = _without_trend(t_s, lines[:, known])
    if not known.any() or not frequencies.size:
        return _Side(lines=kept, known=known, peak_hz=0.0, share=0.0)
    power = (np.abs(_amplitudes(frequencies, t_s, kept)) ** 2).mean(axis=1)
    best = int(power.argmax())
    # A sine of amplitude A has the variance A²/2; at half the frame rate it has A².
    share = float(power[best]) / 2 / max(float(kept.var(axis=0).mean()), 1e-12)
    return _Side(lines=kept, known=known, peak_hz=_peak(frequencies, power, best), share=share)


def _wave(t_s: Floats, side: _Side, hz: float) -> Complex:
    """Return each line's complex amplitude at one frequency, NaN where a line tells nothing."""
    wave: Complex = np.full(side.known.size, np.nan + 0j)
    wave[side.known] = _amplitudes(np.array([hz]), t_s, side.lines)[0]
    return wave


def _without_trend(t_s: Floats, lines: Floats) -> Floats:
    centred = t_s - t_s.mean()
    lines = lines - lines.mean(axis=0)
    slope = centred @ lines / (centred @ centred)
    return np.asarray(lines - centred[:, None] * slope)


def _amplitudes(frequencies: Floats, t_s: Floats, lines: Floats) -> Complex:
    """Return (frequencies, lines) complex amplitudes of the sines that fit best."""
    turns = np.exp(-2j * np.pi * frequencies[:, None] * (t_s - t_s[0]))
    return np.asarray(turns @ lines * (2.0 / t_s.size))


def _peak(frequencies: Floats, power: Floats, best: int) -> float:
    """Return the place of the peak: the vertex of the parabola through three points."""
    if not 0 < best < power.size - 1:
        return float(frequencies[best])
    left, middle, right = power[best - 1 : best + 2]
    bend = left - 2 * middle + right
    shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return float(frequencies[best] + shift * (frequencies[1] - frequencies[0]))


def _bands(down: Complex, across: Complex) -> Bands | None:
    slopes = [
        (_slope(wave), wave.size, vertical) for wave, vertical in ((down, True), (across, False))
    ]
    running = [
        (abs(slope) * size, slope, vertical)
        for slope, size, vertical in slopes
        if slope is not None and abs(slope) * size > _SLOPE_SPAN
    ]
    if not running:
        return None
    _, slope, vertical = max(running)
    return Bands(vertical=vertical, cells_per_cycle=2 * np.pi / abs(slope))


def _strength(*sides: Complex) -> float:
    """Return the amplitude along the side that shows it: bands average out across themselves."""
    known = [np.abs(side[np.isfinite(side)]) for side in sides]
    return max(float(np.median(side)) for side in known if side.size)


def _slope(wave: Complex) -> float | None:
    """Return by how much the phase grows from cell to cell, in rad; None where it is no line.

    The slope that brings all waves best into step is taken: phases need no unwrapping.
    """
    places = np.flatnonzero(np.isfinite(wave))
    if places.size < 6:
        return None
    strength = np.abs(wave[places])
    if strength.sum() <= 0:
        return None
    tried = np.linspace(-_STEEPEST, _STEEPEST, _SLOPES)
    inside = np.abs(np.exp(-1j * tried[:, None] * places) @ wave[places])
    best = int(inside.argmax())
    slope = _peak(tried, inside, best)
    common = (np.exp(-1j * slope * places) @ wave[places]).conj()
    left = np.angle(wave[places] * np.exp(-1j * slope * places) * common)
    scatter = float(np.sqrt((strength * left**2).sum() / strength.sum()))
    return slope if scatter <= _PHASE_SCATTER else None
