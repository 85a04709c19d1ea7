"""Where tracks ought to be in the next frame, as arrays."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.motion.detections import Detections
from viscount.motion.geometry import Geometry
from viscount.motion.track import Axis, Track

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_SIGMA_PX = 0.7
"""Least uncertainty of a predicted place: shape and light change from frame to frame."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Prediction:
    """Where n tracks ought to be: at the times of m blobs, and when their own lines are exposed.

    y, var_y, x, var_x : (n, m). place, sigma, side, speed : (n,) at the latter time.
    length, area, behind : (n,) of the parts as last seen whole. seen_at : (n, 2) last y and x.
    resting : (n,) whether it was last seen where it had been seen before.
    aside : (n,) whether it stuck out of the view sideways when it was last seen.
    """

    y: Floats
    var_y: Floats
    x: Floats
    var_x: Floats
    place: Floats
    sigma: Floats
    side: Floats
    speed: Floats
    length: Floats
    area: Floats
    behind: Floats
    seen_at: Floats
    resting: Flags
    aside: Flags
    covering: Flags
    """(n, m) whether the blob lies over the place."""


def predict(tracks: list[Track], now: Detections, geometry: Geometry) -> Prediction:
    """Return where the tracks ought to be in this frame."""
    rows = np.array([(*_axis(t.along), *_axis(t.across), t.t_s, t.length, t.area) for t in tracks])
    along, across, (t_s, length, area) = np.split(rows.reshape(-1, 17).T, [7, 14])
    dt = now.time_s - t_s[:, None]
    y, var_y = _moved(along[:, :, None], dt)
    x, var_x = _moved(across[:, :, None], dt)
    elapsed = _exposed_s(along, across, t_s, now, geometry) - t_s
    place, var_place = _moved(along, elapsed)
    side, _ = _moved(across, elapsed)
    inside_y = (now.tail <= place[:, None]) & (place[:, None] <= now.head)
    inside_x = (now.low <= side[:, None]) & (side[:, None] <= now.high)
    return Prediction(
        y=y,
        var_y=var_y,
        x=x,
        var_x=var_x,
        place=place,
        sigma=np.sqrt(var_place) + LEAST_SIGMA_PX,
        side=side,
        speed=_speed(along, elapsed),
        length=length,
        area=area,
        behind=np.array([track.behind for track in tracks]),
        seen_at=np.array([(t.sights[-1].y, t.sights[-1].x) for t in tracks]).reshape(-1, 2),
        resting=np.array([track.rests for track in tracks], dtype=bool),
        aside=np.array([t.sights[-1].aside for t in tracks], dtype=bool),
        covering=inside_y & inside_x,
    )


def _exposed_s(
    along: Floats, across: Floats, t_s: Floats, now: Detections, geometry: Geometry
) -> Floats:
    """Return (n,) when the lines that the tracks are on are exposed."""

    def path(at_s: Floats) -> tuple[Floats, Floats, Floats]:
        elapsed = at_s - t_s
        return _moved(along, elapsed)[0], _moved(across, elapsed)[0], _speed(along, elapsed)

    return geometry.exposed_s(now.t_s, np.full_like(t_s, now.t_s), path)


def _axis(axis: Axis) -> tuple[float, ...]:
    return (
        *(axis.place, axis.speed, axis.var_place, axis.cov, axis.var_speed),
        *(axis.acceleration, axis.var_acceleration),
    )


def _moved(axes: Floats, dt: Floats) -> tuple[Floats, Floats]:
    """Return place and variance after `dt`; see `Axis.predict`."""
    place, speed, var_place, cov, var_speed, acceleration, var_acceleration = axes
    at = place + (speed + 0.5 * acceleration * dt) * dt
    square = dt * dt
    var = var_place + (2 * cov + var_speed * dt) * dt + 0.25 * var_acceleration * square * square
    return at, var


def _speed(axes: Floats, dt: Floats) -> Floats:
    """Return the speed after `dt`."""
    return np.asarray(axes[1] + axes[5] * dt)
