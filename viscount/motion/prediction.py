"""Where tracks ought to be in the next frame, as arrays."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.motion.detections import Detections
from viscount.motion.geometry import Geometry
from viscount.motion.track import Track

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_SIGMA_PX = 0.7
"""Least uncertainty of a predicted place: shape and light change from frame to frame."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Prediction:
    """Where n tracks ought to be: at the times of m blobs, and when their own lines are exposed.

    y, var_y, x, var_x : (n, m), or (n, 1) where all lines are exposed at once.
    place, sigma, side, speed : (n,) at the latter time.
    length, area, behind : (n,) of the parts as last seen whole.
    full : (n,) the largest area that was seen whole and alone; 0 where none was.
    seen_y, seen_x : (n,) where they were last seen.
    cut, aside : (n,) whether they were not whole, and stuck out of the view sideways, then.
    once : (n,) whether that was the first time.
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
    full: Floats
    seen_y: Floats
    seen_x: Floats
    cut: Flags
    aside: Flags
    once: Flags
    grown: Floats
    """(n, m) by how much the blob's area exceeds the part's, as a logarithm."""
    covering: Flags
    """(n, m) whether the blob lies over the place."""
    covered: Flags
    """(n,) whether any does."""


def predict(tracks: list[Track], now: Detections, geometry: Geometry) -> Prediction:
    """Return where the tracks ought to be in this frame."""
    table = np.array([_row(track) for track in tracks], dtype=np.float64).reshape(-1, 24).T
    # Along and across the fall at once.
    axes = table[:14].reshape(2, 7, -1).transpose(1, 0, 2)
    t_s, length, area, behind, full, seen_y, seen_x, cut, aside, once = table[14:]
    elapsed = _exposed_s(axes, t_s, now, geometry) - t_s
    places, variances = _moved(axes, elapsed)
    if geometry.line_time_s:
        at_blobs, var_at_blobs = _moved(axes[..., None], now.time_s - t_s[:, None])
    else:
        at_blobs, var_at_blobs = places[..., None], variances[..., None]
    (place, side), (y, x), (var_y, var_x) = places, at_blobs, var_at_blobs
    inside_y = (now.tail <= place[:, None]) & (place[:, None] <= now.head)
    inside_x = (now.low <= side[:, None]) & (side[:, None] <= now.high)
    covering = inside_y & inside_x
    return Prediction(
        y=y,
        var_y=var_y,
        x=x,
        var_x=var_x,
        place=place,
        sigma=np.sqrt(variances[0]) + LEAST_SIGMA_PX,
        side=side,
        speed=_speeds(axes, elapsed)[0],
        length=length,
        area=area,
        behind=behind,
        full=full,
        seen_y=seen_y,
        seen_x=seen_x,
        cut=cut != 0.0,
        aside=aside != 0.0,
        once=once != 0.0,
        grown=np.log(now.area / area[:, None]),
        covering=covering,
        covered=covering.any(axis=1),
    )


def _exposed_s(axes: Floats, t_s: Floats, now: Detections, geometry: Geometry) -> Floats:
    """Return (n,) when the lines that the tracks are on are exposed."""

    def path(at_s: Floats) -> tuple[Floats, Floats, Floats]:
        elapsed = at_s - t_s
        (place, side), _ = _moved(axes, elapsed)
        return place, side, _speeds(axes, elapsed)[0]

    return geometry.exposed_s(now.t_s, np.full_like(t_s, now.t_s), path)


def _row(track: Track) -> tuple[float, ...]:
    y, x, seen = track.along, track.across, track.sights[-1]
    return (
        *(y.place, y.speed, y.var_place, y.cov, y.var_speed, y.acceleration, y.var_acceleration),
        *(x.place, x.speed, x.var_place, x.cov, x.var_speed, x.acceleration, x.var_acceleration),
        *(track.t_s, track.length, track.area, track.behind, track.full),
        *(seen.y, seen.x, not seen.whole, seen.aside, len(track.sights) == 1),
    )


def _moved(axes: Floats, dt: Floats) -> tuple[Floats, Floats]:
    """Return places and variances after `dt`; see `Axis.advance`."""
    place, speed, var_place, cov, var_speed, acceleration, var_acceleration = axes
    at = place + (speed + 0.5 * acceleration * dt) * dt
    square = dt * dt
    var = var_place + (2 * cov + var_speed * dt) * dt + 0.25 * var_acceleration * square * square
    return at, var


def _speeds(axes: Floats, dt: Floats) -> Floats:
    """Return the speeds after `dt`."""
    return np.asarray(axes[1] + axes[5] * dt)
