"""The line time from bands of light.

Light that flickers at f gives line r of the frame at t the brightness ``1 + A cos(2 pi f (t + r T)
+ p)``, T the line time. With f known, T is where this wave, over all lines and frames at once,
fits best (least squares; a matched filter): the bands' pitch ``1 / (f T)`` need not fit into the
picture, because the phase runs on from frame to frame too. The direction in which T is positive is
that of the readout.

The frames show f only modulo their rate, as drift of the bands; that drift is measured along with
T, and makes sharp what is known of f roughly.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.measure.scale.budget import Budget, Input, rectangular
from viscount.values import Falls

Floats = NDArray[np.float64]

LEAST_FRAMES: Final = 32
LEAST_LINES: Final = 24
STANDS_OUT: Final = 0.2
"""Share of the lines' unrest that the wave must explain."""
RIVAL: Final = 0.9
"""Another frequency or direction that explains this share of what the best does is as good."""
NEAR_HZ: Final = 0.5
"""A stated frequency may be off by so much (0.2 Hz of the mains, twice, and the camera's clock)."""
LIKELY_HZ: Final = 0.2
"""Of two waves that explain the same, one within so much of its stated frequency stands against
one that is not: the mains are hardly ever further off."""
LEAST_TURN: Final = 0.6
"""Rad over the picture below which the phase does not run at all."""
_STANDING: Final = 0.6
"""Cycles over the clip by which bands must drift; else they look like the scene's own light."""
_FAR: Final = 2.0
"""So many robust standard deviations; a sine swings by 1.4 of its own."""
_BLOCKS: Final = 6
CLOCK_SHARE: Final = 1e-4
_FINE: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave:
    """Bands of one light.

    Attributes
    ----------
    vertical : lines are rows (else columns).
    light_hz : its frequency; `stated_hz` is what was tried.
    line_s : from line to line, negative where lines run up or to the left.
    amplitude : share of the light by which it swings.
    share : of the unrest that it explains, 0 to 1.
    """

    vertical: bool
    light_hz: float
    stated_hz: float
    line_s: float
    amplitude: float
    share: float

    @property
    def likely(self) -> bool:
        """Whether its frequency is about what was stated."""
        return abs(self.light_hz - self.stated_hz) <= LIKELY_HZ

    @property
    def readout(self) -> Falls:
        """Where its lines run."""
        if self.vertical:
            return Falls.DOWN if self.line_s > 0 else Falls.UP
        return Falls.RIGHT if self.line_s > 0 else Falls.LEFT

    @property
    def lines_per_cycle(self) -> float:
        """Pitch of the bands in lines."""
        return 1.0 / (self.light_hz * abs(self.line_s))


@dataclass(frozen=True, slots=True, kw_only=True)
class Banded:
    """What bands say: the best wave, its budget in seconds, and waves that explain them as well."""

    wave: Wave
    budget: Budget
    rivals: tuple[Wave, ...]


def bands_line_time(
    t_s: Floats,
    rows: Floats,
    columns: Floats,
    lights_hz: Sequence[float],
    *,
    stated_share: float = 0.0,
    readout: Falls | None = None,
) -> Banded | None:
    """Return the line time by the bands of light, or None where there are none.

    Parameters
    ----------
    t_s : (n,) times of the frames.
    rows, columns : (n, h) and (n, w) light of each line relative to the same line of the empty
        scene; NaN where a line tells nothing.
    lights_hz : frequencies the light may have.
    readout : where the lines run, if that is known.
    stated_share : relative standard uncertainty of those, where their drift does not tell better.
    """
    if t_s.size < LEAST_FRAMES or not t_s[-1] > t_s[0]:
        return None
    sides = [s for s in (_side(t_s, rows, True), _side(t_s, columns, False)) if s is not None]
    found = [
        wave
        for side in sides
        for hz in lights_hz
        for wave in _waves(side, hz)
        if wave.share >= STANDS_OUT and readout in (None, wave.readout)
    ]
    if not found:
        return None
    best = max(found, key=lambda wave: wave.share)
    likely = [w for w in found if w.likely and w.share >= RIVAL * best.share]
    if likely:
        best = max(likely, key=lambda wave: wave.share)
        found = likely
    side = next(s for s in sides if s.vertical is best.vertical)
    rivals = tuple(w for w in found if w is not best and w.share >= RIVAL * best.share)
    line = abs(best.line_s)
    span = float(t_s[-1] - t_s[0])
    # The peak of a spectrum over the time span; mains are this far from their nominal value.
    drift = min(0.1 / span, NEAR_HZ) / best.light_hz
    inputs = (
        Input(name="scatter of the bands", u=_scatter(side, best), freedom=_BLOCKS - 1),
        Input(name="the light's frequency", u=line * math.hypot(rectangular(drift), stated_share)),
        Input(name="clock", u=line * rectangular(CLOCK_SHARE)),
    )
    return Banded(wave=best, budget=Budget(inputs=inputs), rivals=rivals)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Side:
    """Lines of one direction, their mean over time taken off; (n, lines) at `places`."""

    vertical: bool
    t_s: Floats
    lines: Floats
    places: Floats
    size: int
    most_line_s: float
    unrest: float


def _side(t_s: Floats, lines: Floats, vertical: bool) -> _Side | None:
    known = np.isfinite(lines).all(axis=0)
    if np.count_nonzero(known) < LEAST_LINES:
        return None
    kept = lines[:, known]
    centred = t_s - t_s.mean()
    slope = centred @ (kept - kept.mean(axis=0)) / (centred @ centred)
    kept = kept - kept.mean(axis=0) - centred[:, None] * slope
    # Parts in front of the light are far from what it does.
    usual = 1.4826 * float(np.median(np.abs(kept)))
    kept = np.clip(kept, -_FAR * usual, _FAR * usual)
    interval = float(np.median(np.diff(t_s)))
    return _Side(
        vertical=vertical,
        t_s=t_s - t_s.mean(),
        lines=kept,
        places=np.flatnonzero(known) - 0.5 * (lines.shape[1] - 1),
        size=int(lines.shape[1]),
        most_line_s=interval / lines.shape[1],
        unrest=float(np.square(kept).sum()),
    )


def _waves(side: _Side, stated_hz: float) -> Iterator[Wave]:
    """Yield the best wave near a frequency with the lines running each way."""
    interval = float(np.median(np.diff(side.t_s)))
    span = float(side.t_s[-1] - side.t_s[0])
    alias = abs(stated_hz - round(stated_hz * interval) / interval)
    if alias * span < _STANDING:
        return
    reach = min(NEAR_HZ, 0.4 / interval)
    tried = np.arange(-reach, reach + 1e-9, 0.2 / span) + stated_hz if span > 0 else [stated_hz]
    demodulated = {float(hz): _demodulated(side, float(hz)) for hz in tried}
    for sign in (1.0, -1.0):
        lines = sign * np.arange(0.0, side.most_line_s, 0.1 / (stated_hz * side.size))
        best = max(
            ((_explained(side, hz, d, lines), hz) for hz, d in demodulated.items()),
            key=lambda one: float(one[0].max()),
        )
        hz, line = best[1], float(lines[int(best[0].argmax())])
        hz, line = _sharpened(side, hz, line, 0.2 / span, 0.1 / (stated_hz * side.size))
        if line * sign <= 0 or 2 * math.pi * hz * abs(line) * side.size < LEAST_TURN:
            # The other way's own top, or a light that comes and goes over all lines at once.
            continue
        share, amplitude = _fit(side, hz, line)
        yield Wave(
            vertical=side.vertical,
            light_hz=hz,
            stated_hz=stated_hz,
            line_s=line,
            amplitude=amplitude,
            share=share,
        )


def _demodulated(side: _Side, hz: float) -> NDArray[np.complex128]:
    """Return (lines,) each line's own amplitude at a frequency."""
    return np.asarray(np.exp(-2j * np.pi * hz * side.t_s) @ side.lines)


def _explained(
    side: _Side, hz: float, demodulated: NDArray[np.complex128], line_s: Floats
) -> Floats:
    """Return (k,) squares that waves with these line times explain, about."""
    turns = np.exp(-2j * np.pi * hz * line_s[:, None] * side.places)
    return np.asarray(np.abs(turns @ demodulated) ** 2)


def _fit(side: _Side, hz: float, line_s: float) -> tuple[float, float]:
    """Return the share of the unrest that a wave explains, by least squares, and its amplitude.

    The sums of cos² and sin² over frames and lines are known in closed form from sums of
    ``exp(2 i phase)``, which is a product over both.
    """
    inside = complex(np.exp(-2j * np.pi * hz * line_s * side.places) @ _demodulated(side, hz))
    n = side.t_s.size * side.places.size
    double = complex(
        np.exp(4j * np.pi * hz * side.t_s).sum()
        * np.exp(4j * np.pi * hz * line_s * side.places).sum()
    )
    normal = 0.5 * np.array([[n + double.real, double.imag], [double.imag, n - double.real]])
    right = np.array([inside.real, -inside.imag])
    solution = np.linalg.lstsq(normal, right, rcond=1e-9)[0]
    share = float(right @ solution) / max(side.unrest, 1e-12)
    return share, float(np.hypot(*solution))


def _sharpened(
    side: _Side, hz: float, line_s: float, hz_step: float, line_step: float
) -> tuple[float, float]:
    """Climb to the top of the fit, by ever finer crosses of points and their parabolas."""
    for _ in range(_FINE):
        line_s = _vertex(line_s, line_step, _share_by_line(side, hz))
        hz = _vertex(hz, hz_step, _share_by_hz(side, line_s))
        hz_step, line_step = 0.3 * hz_step, 0.3 * line_step
    return hz, line_s


def _share_by_line(side: _Side, hz: float) -> Callable[[float], float]:
    return lambda line_s: _fit(side, hz, line_s)[0]


def _share_by_hz(side: _Side, line_s: float) -> Callable[[float], float]:
    return lambda hz: _fit(side, hz, line_s)[0]


def _vertex(at: float, step: float, height: Callable[[float], float]) -> float:
    """Return the top of the parabola through three heights, at most one step and a half away."""
    left, middle, right = height(at - step), height(at), height(at + step)
    bend = left - 2 * middle + right
    if bend >= 0:
        return at + (step if right > left else -step)
    return at + step * float(np.clip(0.5 * (left - right) / bend, -1.5, 1.5))


def _scatter(side: _Side, wave: Wave) -> float:
    """Return the standard uncertainty of the line time, from blocks of frames by themselves."""
    found = []
    for block in np.array_split(np.arange(side.t_s.size), _BLOCKS):
        lines = side.lines[block]
        part = _Side(
            vertical=side.vertical,
            t_s=side.t_s[block],
            lines=lines,
            places=side.places,
            size=side.size,
            most_line_s=side.most_line_s,
            unrest=float(np.square(lines).sum()),
        )
        line, step = wave.line_s, 0.02 / (wave.light_hz * side.size)
        for _ in range(4):
            line = _vertex(line, step, _share_by_line(part, wave.light_hz))
            step *= 0.5
        found.append(line)
    return float(np.std(found, ddof=1)) / math.sqrt(len(found))
