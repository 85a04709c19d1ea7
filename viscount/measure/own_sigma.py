"""How well each passage's own time and speed are known."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.outlet import Part, Shape
from viscount.values import Passage

Floats = NDArray[np.float64]

PLACE_FLOOR_PX = 0.02
"""The pixel grid and compression draw centres by this much, however fine the picture."""
LINE_FACTOR = math.sqrt(12.0)
MOST_SPEED_SHARE = 0.05
ALIKE_ALL_ROUND = (Shape.WASHER, Shape.NUT, Shape.BALL)
"""Shapes whose outline keeps its centre where the part's is, however it turns."""
WOBBLE_TIME, WOBBLE_SPEED = 0.04, 0.08
"""Of other shapes that turn, what is seen wobbles about the centre of mass; by these shares of
the spread of their lengths."""


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
    part: Part | None = None,
) -> OwnSigma:
    """Return what passages are off by themselves.

    For a line through n places with equal errors, over the time T: the speed's sigma times T is
    root 12 of the middle's sigma (any text on regression).

    Parameters
    ----------
    passages : with the fall.
    interval_s : from frame to frame; None where unknown.
    length_spread_px : standard deviation of single parts' lengths.
    part : None where nobody described it.
    """
    speed = np.maximum([abs(p.speed_px_s) for p in passages], 1.0)
    stated = np.array([1e-9 * p.sigma_ns for p in passages])
    round_one = part is not None and part.shape in ALIKE_ALL_ROUND
    spread = 0.0 if round_one else length_spread_px
    seen = np.hypot(stated, PLACE_FLOOR_PX / speed)
    t_s = np.hypot(seen, WOBBLE_TIME * spread / speed)
    frames = np.array([p.last_frame - p.first_frame for p in passages], dtype=np.float64)
    if interval_s is None:
        return OwnSigma(t_s=t_s, speed_share=np.full(len(passages), MOST_SPEED_SHARE))
    over_s = np.maximum(frames, 0.5) * interval_s
    share = LINE_FACTOR * np.hypot(seen, WOBBLE_SPEED * spread / speed) / over_s
    share = np.where(frames < 1, MOST_SPEED_SHARE, np.minimum(share, MOST_SPEED_SHARE))
    return OwnSigma(t_s=t_s, speed_share=share)


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
