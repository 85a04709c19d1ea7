"""How well the acceleration of the parts is known: as it was stated, or as the parts showed it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from viscount import fall
from viscount.outlet import MotionKind, Outlet, Shape
from viscount.values import Passage

LOCAL_GRAVITY = 0.003
"""Gravity lies within this share of the standard, from the equator to the poles and up a hill."""
DRAG_AT = {Shape.WASHER: 0.04, Shape.NUT: 0.02, Shape.SCREW: 0.01, Shape.BALL: 0.01}
"""The most of gravity that drag takes, at `DRAG_SPEED_MM_S`; it grows with the speed squared."""
DRAG_ELSE = 0.04
DRAG_SPEED_MM_S = 2000.0
CHUTE = 0.05
"""The acceleration of a chute was measured by somebody; friction changes with dust and damp."""
ENOUGH_FRAMES = 4
"""A parabola through fewer places has nothing to say for itself."""
LEARNED_FLOOR = 0.005
"""No learned acceleration is better known: lens and tilt bend the scale along the view."""
GUESSED = 0.3
"""Where nothing could be learned, the model's own guess is no better than this."""
SAME = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceleration:
    """Of all parts, with its standard uncertainty, in px/s²; `origin` is "stated" or "learned"."""

    px_s2: float
    sigma_px_s2: float
    origin: str


def acceleration_of(
    passages: Sequence[Passage],
    acceleration_px_s2: float,
    *,
    scale_px_per_mm: float | None,
    interval_s: float | None,
    outlet: Outlet,
) -> Acceleration:
    """Return an acceleration that parts were followed with, and how well it is known.

    One that is the outlet file's own is known as well as such are; any other was learned.

    Parameters
    ----------
    passages : that were followed with it.
    scale_px_per_mm, interval_s : None where unknown; the second is from frame to frame.
    """
    speed = float(np.median([abs(p.speed_px_s) for p in passages])) if passages else 0.0
    stated = _stated_px_s2(outlet, scale_px_per_mm)
    if stated is not None and abs(stated - acceleration_px_s2) <= SAME * max(stated, 1.0):
        in_mm = 0.0 if scale_px_per_mm is None else speed / scale_px_per_mm
        share = _stated_share(outlet, in_mm)
        return Acceleration(px_s2=stated, sigma_px_s2=share * stated, origin="stated")
    sigma = _learned_sigma(passages, acceleration_px_s2, interval_s, speed)
    if scale_px_per_mm is not None:
        most = _most_drag(outlet, speed / scale_px_per_mm)
        # Farther down there is more drag; and no fall is faster than gravity, but for the scale.
        sigma = math.hypot(sigma, most / math.sqrt(3.0) * acceleration_px_s2)
        if outlet.motion.kind is MotionKind.FREE_FALL and stated is not None:
            low, high = (1.0 - most) * stated, (1.0 + LOCAL_GRAVITY) * stated
            beyond = max(low - acceleration_px_s2, acceleration_px_s2 - high, 0.0)
            sigma = math.hypot(sigma, beyond)
    return Acceleration(px_s2=acceleration_px_s2, sigma_px_s2=sigma, origin="learned")


def _stated_px_s2(outlet: Outlet, scale: float | None) -> float | None:
    motion = outlet.motion
    if motion.kind is MotionKind.BELT:
        return 0.0
    in_mm = motion.acceleration_mm_s2
    if in_mm is None and motion.kind is MotionKind.FREE_FALL:
        in_mm = fall.STANDARD_GRAVITY_MM_S2
    return None if in_mm is None or scale is None else in_mm * scale


def _stated_share(outlet: Outlet, speed_mm_s: float) -> float:
    """Return the relative standard uncertainty of a stated acceleration.

    Drag takes anything from nothing to its most (rectangular distribution about the value that
    is used, JCGM 100, 4.3.7, one-sided: its root mean square is the most over root 3).
    """
    if outlet.motion.kind is MotionKind.SLIDE:
        return CHUTE
    return math.hypot(LOCAL_GRAVITY, _most_drag(outlet, speed_mm_s) / math.sqrt(3.0))


def _most_drag(outlet: Outlet, speed_mm_s: float) -> float:
    """Return the greatest share of gravity that drag takes at this speed."""
    if outlet.motion.kind is MotionKind.BELT:
        return 0.0
    shape = None if outlet.part is None else outlet.part.shape
    most = DRAG_ELSE if shape is None else DRAG_AT.get(shape, DRAG_ELSE)
    return most * (speed_mm_s / DRAG_SPEED_MM_S) ** 2


def _learned_sigma(
    passages: Sequence[Passage], acceleration: float, interval_s: float | None, speed: float
) -> float:
    """Return the standard uncertainty of the acceleration that these passages taught.

    A parabola through n places with equal errors over the time T gives the acceleration to
    root 720 times what a line's middle is known to, over T² (any text on regression); of many
    parts the median is taken, which is a quarter worse than the mean.
    """
    floor = LEARNED_FLOOR * acceleration
    own = []
    for p in passages:
        frames = p.last_frame - p.first_frame
        if interval_s is not None and frames >= ENOUGH_FRAMES:
            place_px = 1e-9 * p.sigma_ns * abs(p.speed_px_s)
            own.append(math.sqrt(720.0) * place_px / (frames * interval_s) ** 2)
    if own:
        return math.hypot(floor, 1.2533 * float(np.median(own)) / math.sqrt(len(own)))
    spans = [p.last_frame - p.first_frame for p in passages]
    span_s = (float(np.median(spans)) if spans else 0.0) * (interval_s or 0.0)
    over = GUESSED * speed / span_s if span_s > 0 else 0.0
    return max(floor, GUESSED * acceleration, over)
