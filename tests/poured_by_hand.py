"""Pours and gates made by hand, for tests of what comes after the counting."""

from dataclasses import replace
from typing import Any

import numpy as np

from viscount.fall import STANDARD_GRAVITY_MM_S2
from viscount.gate.strokes import Moves, Strokes
from viscount.stream import Poured

G = STANDARD_GRAVITY_MM_S2


def poured(t_s: Any, speed: Any, *, half_mm: float = 4.0, g: float = G, **more: Any) -> Poured:
    """Parts that cross the line at these times and speeds, each `half_mm` to either end."""
    t_s = np.asarray(t_s, dtype=np.float64)
    none = np.zeros(len(t_s))
    plain = Poured(
        unit="mm",
        t_s=t_s,
        sigma_s=none,
        speed=np.broadcast_to(np.asarray(speed, dtype=np.float64), t_s.shape).copy(),
        sigma_speed=none,
        ahead=none + half_mm,
        behind=none + half_mm,
        sigma_end=0.0,
        doubt=none,
        acceleration=g,
        sigma_acceleration=0.0,
    )
    return replace(plain, **more)


def column(
    count: int,
    *,
    pitch_mm: float = 5.5,
    acceleration: float = 2350.0,
    line_mm: float = 100.0,
    jitter_s: float = 0.0,
    seed: int = 1,
    **more: Any,
) -> Poured:
    """A column of touching parts as it passes a line below the lip, by the textbook's law."""
    rng = np.random.default_rng(seed)
    k = np.arange(1, count + 1)
    leaves = np.sqrt(2 * k * pitch_mm / acceleration) + jitter_s * rng.standard_normal(count)
    v = np.sqrt(2 * acceleration * k * pitch_mm)
    speed = np.sqrt(v**2 + 2 * G * line_mm)
    given = {"half_mm": pitch_mm / 2} | more
    return poured(np.sort(leaves + (speed - v) / G), speed, **given)


def moves(reach_ms: Any, shut_ms: Any) -> Moves:
    """Strokes of one direction by their times."""
    reach = np.asarray(reach_ms, dtype=np.float64) * 1e-3
    shut = np.asarray(shut_ms, dtype=np.float64) * 1e-3
    return Moves(first_motion_s=np.full(len(reach), np.nan), begins_s=reach, done_s=shut)


def strokes(reach_ms: Any, shut_ms: Any) -> Strokes:
    """A gate of which only the shutting was measured."""
    return Strokes(shutting=moves(reach_ms, shut_ms))


def even_strokes(reach_ms: tuple[float, float], shut_ms: tuple[float, float]) -> Strokes:
    """Twenty strokes, evenly spread over both spans."""
    return strokes(np.linspace(*reach_ms, 20), np.linspace(*shut_ms, 20))


def drawn_strokes(
    count: int, seed: int, *, reach_ms: float = 5.0, takes_ms: float = 3.0
) -> Strokes:
    """Strokes that scatter as a solenoid's do."""
    rng = np.random.default_rng(seed)
    reach = reach_ms + 0.3 * rng.standard_normal(count)
    return strokes(reach, reach + takes_ms + 0.2 * rng.standard_normal(count))
