"""Pours made by hand, for tests of what their spacing tells: no picture, the law written out."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from viscount.measure.heights import Height
from viscount.measure.poured import Pour
from viscount.stream import Poured

Floats = NDArray[np.float64]

G = 9806.65
DROP = 105.0
"""From the lip to the line, mm."""
LIP = Height(below_line=-DROP, sigma=0.0, unit="mm")


def pour(t_s: Floats, speed: Floats, **changes: Any) -> Pour:
    """Return one pour of parts of 4 mm that cross the line at these times, known to 1 µs."""
    n = len(t_s)
    own = {
        "unit": "mm",
        "t_s": np.asarray(t_s, dtype=np.float64),
        "sigma_s": np.full(n, 1e-6),
        "speed": np.asarray(speed, dtype=np.float64),
        "sigma_speed": 1e-4 * np.asarray(speed, dtype=np.float64),
        "ahead": np.full(n, 2.0),
        "behind": np.full(n, 2.0),
        "sigma_end": 0.05,
        "doubt": np.full(n, 1e-3),
        "acceleration": G,
        "sigma_acceleration": 10.0,
        "sigma_speed_share": 0.0,
    }
    parts = changes.pop("parts", np.ones(n, dtype=np.int64))
    number = changes.pop("number", 1)
    return Pour(
        number=number,
        poured=Poured(**{**own, **changes}),  # type: ignore[arg-type]
        parts=np.asarray(parts, dtype=np.int64),
        passages=tuple(range(1, n + 1)),
        origin="stated",
    )


def fallen(lip_s: Floats, lip_speed: Floats, **changes: Any) -> Pour:
    """Return a pour of parts that left the lip at these times and speeds, seen at the line."""
    lip_speed = np.asarray(lip_speed, dtype=np.float64)
    speed = np.sqrt(lip_speed**2 + 2 * G * DROP)
    return pour(np.asarray(lip_s) + (speed - lip_speed) / G, speed, **changes)


def column(
    count: int = 60,
    *,
    pitch: float = 5.5,
    acceleration: float = 2350.0,
    start_s: float = 0.0,
    jitter_s: float = 0.0,
    seed: int = 1,
    **changes: Any,
) -> Pour:
    """Return a column: part n leaves after n pitches at a constant acceleration from rest."""
    n = np.arange(1, count + 1)
    t_s = start_s + np.sqrt(2 * n * pitch / acceleration)
    t_s = t_s + jitter_s * np.random.default_rng(seed).standard_normal(count)
    return fallen(t_s, np.sqrt(2 * acceleration * n * pitch), **changes)


def steady(count: int = 30, *, interval_s: float = 0.03, jitter_s: float = 2e-4, **changes: Any):
    """Return parts at one interval, each let go from rest a little above the lip."""
    t_s = interval_s * np.arange(count)
    t_s = t_s + jitter_s * np.random.default_rng(2).standard_normal(count)
    return fallen(t_s, np.full(count, 400.0), **changes)


def without(one: Pour, *gone: int) -> Pour:
    """Return a pour in which the passages of these indices are missing."""
    keep = np.setdiff1d(np.arange(len(one.poured)), gone)
    poured = one.poured
    arrays = {
        name: value[keep] if isinstance(value := getattr(poured, name), np.ndarray) else value
        for name in Poured.__slots__
    }
    return Pour(
        number=one.number,
        poured=Poured(**arrays),
        parts=one.parts[keep],
        passages=tuple(one.passages[k] for k in keep),
        origin=one.origin,
    )
