"""The scale by the ticks of a ruler that lies along the fall.

Strips of the picture along the fall are averaged into profiles. Some of their spectra are a single
line with its harmonics: of these the finest is the ticks', where two strips have it, and the strip
that is most of it shows them best. Each tick is then placed between px, and a parabola through
places against numbers gives the pitch in the middle of the view and how it changes (least
squares, JCGM 100, H.3).
"""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.measure.scale.budget import Budget, Input, rectangular
from viscount.measure.scale.line_fit import Curve, fit_curve
from viscount.measure.scale.way import By, Way
from viscount.values import Level, Notice

Floats = NDArray[np.float64]

LEAST_TICKS: Final = 6
SHORTEST_PX: Final = 3.0
"""Finer ticks than of so many px are not told from the grid of the picture."""
STANDS_OUT: Final = 0.25
"""Share of a profile's unrest that the ticks' frequency and its harmonics must hold."""
_STRIPS: Final = 24
_LEAST_STRIPS: Final = 2
_SAME: Final = 0.03
"""Pitches within so much of each other are the same."""
_NEAR: Final = 0.3
"""A tick is looked for within this share of the pitch around where it should be."""
_CLIP: Final = 4.0
PLANE_SHARE: Final = 0.01
"""Half-width: a ruler stands where parts fall to so much of the distance to the camera."""
PITCH_SHARE: Final = 0.001
"""Half-width: of a ruler's own pitch."""
SLANT_DEG: Final = 3.0
"""Half-width: so far a ruler may be turned against the fall."""
VARIES: Final = 0.05
"""A scale that changes by so much over the view is worth knowing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ticks:
    """Ticks that were found: their numbers (with gaps), places in px along the picture, and the
    curve through them; x of the curve are the numbers."""

    numbers: Floats
    places_px: Floats
    curve: Curve


def by_ruler(picture: NDArray[np.uint8], pitch_mm: float, *, middle_px: float, source: str) -> Way:
    """Return the scale by a ruler's ticks, or why there is none.

    Parameters
    ----------
    picture : uint8 (n, m), axis 0 along the fall (either way).
    pitch_mm : from tick to tick, of the finest that the picture shows; > 0.
    middle_px : of the view, along axis 0.
    """
    ticks = ticks_in(picture)
    if ticks is None:
        text = f"no row of {LEAST_TICKS} even ticks along the fall"
        notice = Notice(level=Level.INVALID, code=Code.NO_TICKS, text=text)
        nothing = Budget(inputs=())
        return Way(
            by=By.RULER,
            source=source,
            value=None,
            budget=nothing,
            what="nothing",
            notices=(notice,),
        )
    number = _number_at(ticks.curve, middle_px)
    pitch, pitch_u = ticks.curve.slope_at(number)
    value = pitch / pitch_mm
    # d(pitch)/dn over pitch is the share by which it changes from tick to tick.
    bend = 2.0 * float(ticks.curve.coefficients[2]) / pitch
    bend_u = 2.0 * math.sqrt(float(ticks.curve.covariance[2, 2])) / pitch
    view = picture.shape[0] / pitch
    change, change_u = bend * view, bend_u * view
    inputs = (
        Input(name="scatter of the ticks", u=pitch_u / pitch, freedom=ticks.curve.freedom),
        Input(name="the ruler's own pitch", u=rectangular(PITCH_SHARE)),
        Input(name="the ruler's place in depth", u=rectangular(PLANE_SHARE)),
        Input(name="its slant", u=rectangular(1.0 - math.cos(math.radians(SLANT_DEG)))),
    )
    return Way(
        by=By.RULER,
        source=source,
        value=value,
        budget=Budget(inputs=inputs).scaled(value),
        what=f"{ticks.numbers.size} ticks, {pitch_mm:g} mm apart, are {pitch:.4g} px apart",
        change=change,
        change_u=change_u,
        notices=changing(change, change_u),
    )


def changing(change: float, change_u: float) -> tuple[Notice, ...]:
    """Say that the scale changes along the view, where it surely does."""
    if abs(change) < max(VARIES, 2.0 * change_u):
        return ()
    text = (
        f"the scale changes by {100 * change:+.1f} ± {200 * change_u:.1f} % over the picture along "
        "the fall; what is given holds in the middle"
    )
    return (Notice(level=Level.INFO, code=Code.SCALE_VARIES, text=text),)


def ticks_in(picture: NDArray[np.uint8]) -> Ticks | None:
    """Return the ticks in a picture, axis 0 along them; None where there are none."""
    edges = np.linspace(0, picture.shape[1], min(_STRIPS, picture.shape[1]) + 1).round().astype(int)
    if picture.shape[0] < LEAST_TICKS * SHORTEST_PX:
        return None
    combs: list[tuple[float, float, Floats]] = []
    for low, high in pairwise(edges.tolist()):
        profile = _even(picture[:, low:high].mean(axis=1))
        found = _pitch(profile)
        if found is not None:
            combs.append((*found, profile))
    # Where the ticks of 5 and 10 alone reach there is a comb, too: the finest that is no chance.
    seen = [c for c in combs if sum(_same(c[1], other[1]) for other in combs) >= _LEAST_STRIPS]
    if not seen:
        return None
    finest = min(pitch for _, pitch, _ in seen)
    _, pitch, profile = max((c for c in seen if _same(c[1], finest)), key=lambda c: c[0])
    return _placed(profile, pitch)


def _same(one: float, other: float) -> bool:
    return abs(one - other) < _SAME * min(one, other)


def _even(profile: Floats) -> Floats:
    """Take slow changes of the light off, and bring the rest to one contrast."""
    x = np.linspace(-1.0, 1.0, profile.size)
    flat = profile - np.polynomial.Polynomial.fit(x, profile, 5)(x)
    return np.asarray(flat / max(float(flat.std()), 1e-9))


def _pitch(profile: Floats) -> tuple[float, float] | None:
    """Return how much of the unrest is the strongest pitch and its harmonics, and that pitch."""
    n = profile.size
    size = 8 * n
    window = np.hanning(n)
    power = np.abs(np.fft.rfft(profile * window, size)) ** 2
    frequency = np.arange(power.size) / size
    usable = (frequency >= LEAST_TICKS / n) & (frequency <= 1.0 / SHORTEST_PX)
    if not usable.any():
        return None
    chosen = np.flatnonzero(usable)
    top = int(chosen[np.argmax(power[chosen])])
    total = float(power.sum())
    width = 2 * 8
    share = sum(
        float(power[max(k * top - width, 0) : k * top + width + 1].sum())
        for k in range(1, 1 + max(1, min(4, (power.size - 1) // max(top, 1))))
    )
    share /= max(total, 1e-9)
    return (share, 1.0 / float(frequency[top])) if share >= STANDS_OUT else None


def _placed(profile: Floats, pitch: float) -> Ticks | None:
    """Place the ticks, counting outwards from the middle so that a slow change of pitch is
    followed; fit the curve, leaving out what is far from it."""
    smooth = np.convolve(profile, _kernel(pitch), mode="same")
    # Ticks are dark on light or light on dark: the narrower side has the longer tail.
    sign = 1.0 if float(np.mean(profile**3)) > 0 else -1.0
    height = sign * smooth
    start = _peak(height, 0.5 * profile.size, pitch)
    if start is None:
        return None
    found = {0: start}
    for way in (1, -1):
        here, step, number, missing = start, pitch, 0, 0
        while missing < 3:
            number += way
            due = here + way * step * (1 + missing)
            if not 1 <= due < profile.size - 1:
                break
            at = _peak(height, due, _NEAR * pitch)
            if at is None:
                missing += 1
                continue
            step += 0.3 * (abs(at - here) / (1 + missing) - step)
            here, missing = at, 0
            found[number] = at
    numbers = np.array(sorted(found), dtype=np.float64)
    places = np.array([found[int(k)] for k in numbers])
    for _ in range(4):
        if numbers.size < LEAST_TICKS:
            return None
        curve = fit_curve(numbers, places, 2)
        off = np.abs(places - np.polynomial.Polynomial(curve.coefficients)(numbers))
        near = off <= _CLIP * max(1.4826 * float(np.median(off)), 0.02)
        if near.all():
            break
        numbers, places = numbers[near], places[near]
    return Ticks(numbers=numbers, places_px=places, curve=curve)


def _kernel(pitch: float) -> Floats:
    reach = np.arange(-math.ceil(0.5 * pitch), math.ceil(0.5 * pitch) + 1)
    kernel = np.exp(-0.5 * (reach / max(0.12 * pitch, 0.6)) ** 2)
    return np.asarray(kernel / kernel.sum())


def _peak(height: Floats, near: float, within: float) -> float | None:
    """Return the place of the highest peak near a place, between px; None where none is inside."""
    low = max(math.ceil(near - within), 1)
    high = min(math.floor(near + within), height.size - 2)
    inside = height[low - 1 : high + 2]
    if inside.size < 3:
        return None
    tops = (inside[1:-1] >= inside[:-2]) & (inside[1:-1] > inside[2:]) & (inside[1:-1] > 0)
    if not tops.any():
        return None
    top = low + int(np.argmax(np.where(tops, inside[1:-1], -np.inf)))
    left, middle, right = height[top - 1 : top + 2]
    return top + 0.5 * float(left - right) / float(left - 2 * middle + right)


def _number_at(curve: Curve, place: float) -> float:
    """Return the number of the tick that would be at a place, by Newton's steps."""
    number = 0.0
    for _ in range(8):
        at, _ = curve.at(number)
        slope, _ = curve.slope_at(number)
        number -= (at - place) / slope if slope else 0.0
    return number
