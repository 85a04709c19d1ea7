"""How well each passage's own time and speed are known."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.outlet import Part, Shape
from viscount.values import Passage

Floats = NDArray[np.float64]

PLACE_FLOOR_PX = 0.04
"""The pixel grid and compression draw centres by this much, however fine the picture."""
LINE_FACTOR = math.sqrt(12.0)
MOST_SPEED_SHARE = 0.05
ALIKE_ALL_ROUND = (Shape.WASHER, Shape.NUT, Shape.BALL)
"""Shapes whose outline keeps its centre where the part's is, however it turns."""
WOBBLE_TIME, WOBBLE_SPEED = 0.15, 0.1
"""Of other shapes that lie differently or turn, what is seen strays about the centre of mass; by
these shares of the spread of their lengths. As found on simulated pours."""
LEAST_WOBBLE = 0.03
"""Nothing that is not alike all round lies so straight that it strays less than by these shares
of this share of its length."""
MOST_DEPTH, USUAL_DEPTH = 0.005, 0.002
"""A part nearer to the camera seems faster, and farther from the middle of the picture, by a share
of half a percent at most; where too few parts show how much, by the second."""
FEWEST_FOR_DEPTH = 5
MAD_TO_SIGMA = 1.4826


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnSigma:
    """(n,) standard uncertainties of each passage's time in s, and relative ones of its speed."""

    t_s: Floats
    speed_share: Floats


def own_sigma(
    passages: Sequence[Passage],
    interval_s: float | None,
    *,
    length_spread_px: float = 0.0,
    usual_length_px: float = 0.0,
    part: Part | None = None,
    off_axis_px: float = 0.0,
) -> OwnSigma:
    """Return what passages are off by themselves.

    For a line through n places with equal errors, over the time T: the speed's sigma times T is
    root 12 of the middle's sigma (any text on regression).

    Parameters
    ----------
    passages : with the fall.
    interval_s : from frame to frame; None where unknown.
    length_spread_px, usual_length_px : standard deviation of single parts' lengths, and their
        median.
    part : None where nobody described it.
    off_axis_px : how far the line is from the middle of the picture.
    """
    speed = np.maximum([abs(p.speed_px_s) for p in passages], 1.0)
    stated = np.array([1e-9 * p.sigma_ns for p in passages])
    round_one = part is not None and part.shape in ALIKE_ALL_ROUND
    least = LEAST_WOBBLE * usual_length_px if math.isfinite(usual_length_px) else 0.0
    spread = 0.0 if round_one else max(length_spread_px, least)
    seen = np.hypot(stated, PLACE_FLOOR_PX / speed)
    t_s = np.hypot(seen, WOBBLE_TIME * spread / speed)
    frames = np.array([p.last_frame - p.first_frame for p in passages], dtype=np.float64)
    if interval_s is None:
        share = np.full(len(passages), MOST_SPEED_SHARE)
    else:
        over_s = np.maximum(frames, 0.5) * interval_s
        share = LINE_FACTOR * np.hypot(seen, WOBBLE_SPEED * spread / speed) / over_s
        share = np.where(frames < 1, MOST_SPEED_SHARE, np.minimum(share, MOST_SPEED_SHARE))
    depth = _depth_share(speed, share)
    return OwnSigma(
        t_s=np.hypot(t_s, depth * abs(off_axis_px) / speed), speed_share=np.hypot(share, depth)
    )


def _depth_share(speed: Floats, share: Floats) -> float:
    """Return how unlike the scale of single parts may be: as neighbours' speeds scatter, at most.

    By second differences, which a steady trend leaves at nothing; their variance is 3/2 of that
    of single speeds. What speeds are off by anyhow is taken out.
    """
    if speed.size < FEWEST_FOR_DEPTH:
        return USUAL_DEPTH
    middle = (speed[2:] + speed[:-2]) / 2.0
    bent = (speed[1:-1] - middle) / middle
    scatter = MAD_TO_SIGMA * float(np.median(np.abs(bent))) / math.sqrt(1.5)
    own = float(np.median(share))
    return math.sqrt(min(max(scatter**2 - own**2, 0.0), MOST_DEPTH**2))


def off_middle_s(passages: Sequence[Passage], interval_s: float | None) -> float:
    """Return how long after the middle of their following parts cross the line, as usual.

    By so much an acceleration that is off puts off all speeds at the line. Where frames were
    lost it is a rough figure, never more than half the time of following.
    """
    if interval_s is None or not passages:
        return 0.0
    first = np.array([p.first_frame for p in passages], dtype=np.float64)
    last = np.array([p.last_frame for p in passages], dtype=np.float64)
    t_s = np.array([1e-9 * p.t_ns for p in passages])
    half = (last - first) * interval_s / 2.0
    return float(np.median(np.clip(t_s - interval_s * (first + last) / 2.0, -half, half)))
