"""Falls integrated numerically, as a pinhole camera sees them: no formula of the program."""

import math

import numpy as np
from scipy.integrate import solve_ivp

from viscount.measure.scale.paths import Fallen

G = 9806.65


def fallen(
    rng: np.random.Generator,
    *,
    count: int = 20,
    scale: float = 4.0,
    drag_per_m: float = 0.02,
    tilt_deg: float = 0.0,
    distance_mm: float = 300.0,
    speed_mm_s: float = 1000.0,
    view_px: float = 400.0,
    fps: float = 240.0,
    sigma_px: float = 0.05,
    line_s: float = 0.0,
    gravity: float = G,
) -> list[Fallen]:
    """Return parts that pass the middle of the view; `line_s` reads lines along the fall."""
    tilt = math.radians(tilt_deg)
    parts = []
    for k in range(count):
        first = [-view_px / scale, speed_mm_s * (1 + 0.03 * rng.normal())]
        path = solve_ivp(
            lambda _, s: [s[1], gravity - 1e-3 * drag_per_m * s[1] ** 2],
            (0.0, 1.0),
            first,
            dense_output=True,
            rtol=1e-9,
            atol=1e-9,
        ).sol

        def seen(t: np.ndarray, path=path) -> np.ndarray:
            z = path(np.clip(t, 0.0, 1.0))[0]
            return scale * math.cos(tilt) * z / (1.0 + z * math.sin(tilt) / distance_mm)

        frames = np.arange(0.0, 1.0, 1.0 / fps) + rng.uniform(0.0, 1.0 / fps)
        at = frames
        for _ in range(30):
            at = frames + line_s * (seen(at) + view_px / 2)
        y = seen(at)
        inside = np.abs(y) < view_px / 2 - 8
        noisy = y[inside] + sigma_px * rng.normal(size=int(inside.sum()))
        sigma = np.full(noisy.size, 0.5 * sigma_px)
        parts.append(Fallen(t_s=frames[inside] + 0.02 * k, y_px=noisy, sigma_px=sigma))
    return parts
