"""How well the crossing of a part can be timed at all: the Cramér-Rao bound.

In one frame a part's place along the fall can be told no better than
var(y) = 1 / Σ (∂I/∂y)² / (σ² + 1/12), with I its own noiseless picture, σ the noise of each
pixel and 1/12 that of rounding. Place and speed at the line are both unknown, the acceleration
is known; what weighted least squares over the frames leaves of the place, over the speed, is the
bound of the time. (Fisher information of Gaussian noise; any textbook of estimation.)
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.drawing import Studio
from viscount.simulate.scene import Camera
from viscount.simulate.timeline import FrameTime

Array = NDArray[np.float64]

SHIFT_PX = 0.05
ROUNDING = 1 / 12
SLOWEST_PX_S = 1.0


def place_variance(
    studio: Studio, camera: Camera, time: FrameTime, part: int, speed_px_s: float
) -> float:
    """Return the least variance, px², of a part's place along the fall in one frame.

    `speed_px_s` is how fast the part moves in this very frame: its picture is moved by taking it
    a moment earlier and later. One that lies still cannot be moved so, and tells nothing: inf.
    """
    if abs(speed_px_s) < SLOWEST_PX_S:
        return np.inf
    shift_ns = max(round(SHIFT_PX / abs(speed_px_s) * 1e9), 1)
    before, here, after = (
        studio.part_alone(_moved(time, by), part).astype(np.float64)
        for by in (-shift_ns, 0, shift_ns)
    )
    slope = (after - before) / (2 * shift_ns * 1e-9 * speed_px_s)
    noise = camera.noise**2 + camera.shot_noise * np.maximum(here, 0.0) + ROUNDING
    information = float(np.sum(slope**2 / noise))
    return 1 / information if information > 0 else np.inf


def crossing_sigma_s(
    frames: Iterable[tuple[float, float]], line_s: float, speed_px_s: float
) -> float | None:
    """Return the bound of a crossing's time, from (time, variance of the place) of each frame.

    None where fewer than two frames tell anything.
    """
    known = [(t, variance) for t, variance in frames if np.isfinite(variance)]
    if len(known) < 2:
        return None
    since = np.array([t for t, _ in known]) - line_s
    weight = 1 / np.array([variance for _, variance in known])
    information = np.array(
        [
            [weight.sum(), (weight * since).sum()],
            [(weight * since).sum(), (weight * since**2).sum()],
        ]
    )
    covariance = np.linalg.inv(information)
    return float(np.sqrt(covariance[0, 0]) / abs(speed_px_s))


def _moved(time: FrameTime, by_ns: int) -> FrameTime:
    return FrameTime(
        number=time.number,
        shows=time.shows,
        t_ns=time.t_ns,
        shown_t_ns=time.shown_t_ns + by_ns,
        file_t_ns=time.file_t_ns,
        exposure_s=time.exposure_s,
        gain=time.gain,
    )
