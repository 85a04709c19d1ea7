"""Motion blur, from how long the edges of parts take from background to part.

A part that moves by b while it is exposed shows its leading and trailing edges as ramps of b;
its sides stay as sharp as the lens draws them. Of a straight ramp 20 % to 80 % is 0.6 b. Where
b is longer than the part itself, the ramps stop at the part's length; then the picture of a
part still grows with its speed, by the exposure (all that follows from averaging a moving
outline over the exposure).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import theilslopes

Floats = NDArray[np.float64]

_LOW, _HIGH = 0.2, 0.8
_SHARE = _HIGH - _LOW

_STRONG = 0.9
"""Lines across a part that are fainter than this share of it are at its sides."""

_SHARPEST = 25
"""Percentile of the edges' lengths: edges at a slant, and rounded ones, look longer."""

_LEAST_LINES = 3

_LEAST_PICTURES, _MOST_PICTURES, _SPEED_RANGE = 12, 400, 0.2
"""So many pictures of parts, over such a range of speeds, tell how they grow with it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """How sharp one part's edges are, 20 % to 80 % in px; None where they cannot be told.

    `lead_px` and `trail_px` are its ends along the fall, `side_px` its sides; `contrast` is how
    far it differs from the background, in grey.
    """

    lead_px: float | None
    trail_px: float | None
    side_px: float | None
    contrast: float


def edges(
    difference: Floats, *, lead: bool = True, trail: bool = True, sides: bool = True
) -> Edges | None:
    """Return how sharp the edges of one part are.

    Parameters
    ----------
    difference : (n, m) absolute difference from the background in grey: the part with a
        little background around it, axis 0 along the fall.
    lead, trail, sides : whether the far end, the near end and the two sides are in the view.
    """
    solid = _plateau(difference.reshape(1, -1))[0]
    if not solid > 0:
        return None
    flanks = [difference.T, difference.T[::-1]] if sides else []
    return Edges(
        lead_px=_sharpest([difference[::-1]], solid) if lead else None,
        trail_px=_sharpest([difference], solid) if trail else None,
        side_px=_sharpest(flanks, solid),
        contrast=solid,
    )


def blur_px(end_px: Floats | float, side_px: float) -> Floats:
    """Return the motion blur that makes a part's ends less sharp than its sides.

    Both as `edges` gives them; variances add.
    """
    return np.sqrt(np.maximum(np.square(end_px) - side_px**2, 0.0)) / _SHARE


def growth_s(speeds_px_s: Floats, lengths_px: Floats) -> tuple[float, float] | None:
    """Return by how much parts' pictures grow with their speed, in s: low and high of 95 %.

    Theil and Sen's slope (Sen, J. Am. Stat. Assoc. 63 (1968) 1379), which a minority of
    merged parts does not move. None where speeds or pictures are too few or too alike.

    Parameters
    ----------
    speeds_px_s, lengths_px : (n,) along the fall, one for each picture of a part.
    """
    if speeds_px_s.size < _LEAST_PICTURES:
        return None
    chosen = np.linspace(0, speeds_px_s.size - 1, min(speeds_px_s.size, _MOST_PICTURES))
    places = chosen.round().astype(int)
    speeds, lengths = speeds_px_s[places], lengths_px[places]
    if float(np.ptp(speeds)) < _SPEED_RANGE * float(np.median(speeds)):
        return None
    slope = theilslopes(lengths, speeds)
    return float(slope.low_slope), float(slope.high_slope)


def _plateau(lines: Floats) -> Floats:
    """Return the grey of the inside of each line: the median of its upper half in height."""
    ordered = np.sort(lines, axis=1)
    last = lines.shape[1] - 1
    top = ordered[:, round(0.98 * last)]
    upper = (lines >= 0.5 * top[:, None]).sum(axis=1)
    return np.asarray(ordered[np.arange(len(lines)), last - (upper - 1) // 2])


def _sharpest(views: list[Floats], solid: float) -> float | None:
    """Return the length of the sharper edges met when going into each view along axis 0."""
    lengths = [length for view in views for length in _lengths(view, solid)]
    return float(np.percentile(lengths, _SHARPEST)) if len(lengths) >= _LEAST_LINES else None


def _lengths(view: Floats, solid: float) -> Floats:
    if min(view.shape) < 3:
        return np.empty(0)
    # Three lines together: less noise, at edges that are nearly straight over so little.
    lines = ((view[:, :-2] + view[:, 1:-1] + view[:, 2:]) / 3).T
    inside = _plateau(lines)
    lines, inside = lines[inside >= _STRONG * solid], inside[inside >= _STRONG * solid]
    if not inside.size:
        return np.empty(0)
    starts = lines[:, 0] < _LOW * inside
    lines, inside = lines[starts], inside[starts]
    return _first(lines, _HIGH * inside) - _first(lines, _LOW * inside)


def _first(lines: Floats, height: Floats) -> Floats:
    """Return where each line first reaches its height, between the pixels."""
    if not height.size:
        return np.empty(0)
    at = np.argmax(lines >= height[:, None], axis=1).clip(min=1)
    rows = np.arange(at.size)
    before, after = lines[rows, at - 1], lines[rows, at]
    rise = np.maximum(after - before, 1e-9)
    return np.asarray(at - 1 + np.clip((height - before) / rise, 0.0, 1.0))
