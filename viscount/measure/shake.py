"""How far a camera moves against its background, to fractions of a pixel.

A small shift d changes the grey of a pixel by ``-d · gradient`` (Lucas and Kanade, Proc. IJCAI
1981, 674). It is solved for, together with the light, over the pixels with the steepest
background; pixels that parts cover do not fit and are weighted away (Tukey's biweight). How far
patches of the picture disagree tells how far the shift can be trusted: shadows and creeping
light change the picture too, but not everywhere alike.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates

Floats = NDArray[np.float64]

_SMOOTH_PX = 1.2
"""Sigma over which the reference is smoothed before its gradients are taken."""

_FIELDS, _POINTS = 8, 48
"""The picture in 8 x 8 fields; the steepest pixels of each take part."""

_LEAST_FIELDS = 0.3
"""Share of the fields that must show something to hold on to."""

_PATCHES, _LEAST_PATCHES, _LEAST_POINTS = 4, 6, 40
"""Patches along each side. So many of them, with so many points each, must agree."""

_BORDER_PX = 6
"""Pixels at the border that are left out: what they show may move out of the picture."""

_STEEP = 4.0
"""A gradient is one when it exceeds its own noise by so many times."""

_ROUNDS, _SETTLED_PX = 8, 0.03
"""Steps towards the shift, at most, and the last of them."""

_TUKEY = 4.685
_SINGULAR = 1e12

SIGMA_PX = 0.15
"""A shift that is known worse than this is not told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """How far a scene lies off, in px, and the standard uncertainty of either."""

    down_px: float
    right_px: float
    sigma_px: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Texture:
    """The pixels of a background that show a shift.

    Attributes
    ----------
    y, x : (n,) where they are.
    patch : (n,) which of the picture's 4 x 4 patches each lies in.
    level, along_y, along_x : (n,) their grey and its gradient, grey per px.
    """

    y: NDArray[np.intp]
    x: NDArray[np.intp]
    patch: NDArray[np.intp]
    level: Floats
    along_y: Floats
    along_x: Floats


def texture(level: NDArray[np.float32], sigma: float) -> Texture | None:
    """Return the pixels of an empty scene that show a shift; None where it is too even.

    Parameters
    ----------
    level : float32 (H, W), grey of the empty scene.
    sigma : noise of one of its pixels in grey.
    """
    smooth = gaussian_filter(level.astype(np.float64), _SMOOTH_PX)
    along_y, along_x = np.gradient(smooth, axis=0), np.gradient(smooth, axis=1)
    steep = np.hypot(along_y, along_x)
    # Noise of a central difference after a Gaussian filter: sigma / (sqrt(8 pi) s^2).
    floor = _STEEP * max(sigma, 0.1) / (np.sqrt(8 * np.pi) * _SMOOTH_PX**2)
    steep[steep < floor] = 0.0
    places = _chosen(steep)
    if places is None:
        return None
    y, x = places
    height, width = level.shape
    return Texture(
        y=y,
        x=x,
        patch=y * _PATCHES // height * _PATCHES + x * _PATCHES // width,
        level=smooth[y, x],
        along_y=along_y[y, x],
        along_x=along_x[y, x],
    )


def _chosen(steep: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]] | None:
    height, width = steep.shape
    rows = np.linspace(_BORDER_PX, height - _BORDER_PX, _FIELDS + 1).astype(int)
    columns = np.linspace(_BORDER_PX, width - _BORDER_PX, _FIELDS + 1).astype(int)
    if rows[1] <= rows[0] or columns[1] <= columns[0]:
        return None
    found: list[tuple[NDArray[np.intp], NDArray[np.intp]]] = []
    for top, bottom in pairwise(rows.tolist()):
        for first, last in pairwise(columns.tolist()):
            field = steep[top:bottom, first:last]
            order = np.argsort(field, axis=None)[-_POINTS:]
            y, x = np.unravel_index(order, field.shape)
            some = field[y, x] > 0
            if 2 * some.sum() >= order.size:
                found.append((y[some] + top, x[some] + first))
    if len(found) < _LEAST_FIELDS * _FIELDS**2:
        return None
    return np.concatenate([y for y, _ in found]), np.concatenate([x for _, x in found])


def shift_px(held: Texture, pixels: NDArray[np.uint8]) -> Shift | None:
    """Return how far the scene in `pixels` lies off; None if that cannot be told.

    Parameters
    ----------
    pixels : uint8 (H, W), of the size of the scene that `held` was taken from.
    """
    place = np.zeros(2)
    sides = np.column_stack([-held.along_y, -held.along_x, held.level])
    for _ in range(_ROUNDS):
        at = np.stack([held.y + place[0], held.x + place[1]])
        grey = map_coordinates(pixels, at, output=np.float64, order=1, mode="nearest")
        answer = _solved(sides, grey, held.level)
        if answer is None:
            return None
        step, weights = answer
        place = place + step
        if np.abs(place).max() > min(pixels.shape) / 4:
            return None
        if np.abs(step).max() <= _SETTLED_PX:
            sigma = _disagreement(held.patch, sides, grey, weights)
            if sigma is None or sigma > SIGMA_PX:
                return None
            down, right = place.tolist()
            return Shift(down_px=down, right_px=right, sigma_px=sigma)
    return None


def _solved(sides: Floats, grey: Floats, level: Floats) -> tuple[Floats, Floats] | None:
    """Return the shift against the pixels as they were taken, and the weights of the pixels."""
    # A first guess of the light that parts cannot spoil.
    answer = np.array([0.0, 0.0, float(np.median(grey / np.maximum(level, 1.0)))])
    weights = _weights(grey - sides @ answer)
    for _ in range(3):
        better = _least_squares(sides, grey, weights)
        if better is None:
            return None
        answer = better
        weights = _weights(grey - sides @ answer)
    return answer[:2], weights


def _weights(left: Floats) -> Floats:
    scale = max(1.4826 * float(np.median(np.abs(left))), 0.3)
    return np.asarray(np.clip(1 - (left / (_TUKEY * scale)) ** 2, 0, None) ** 2)


def _least_squares(sides: Floats, grey: Floats, weights: Floats) -> Floats | None:
    weighted = sides * weights[:, None]
    normal = weighted.T @ sides
    if not np.all(np.isfinite(normal)) or np.linalg.cond(normal) > _SINGULAR:
        return None
    return np.asarray(np.linalg.solve(normal, weighted.T @ grey))


def _disagreement(
    patches: NDArray[np.intp], sides: Floats, grey: Floats, weights: Floats
) -> float | None:
    """Return the standard uncertainty of the mean of what the patches say, each by itself."""
    said = []
    for patch in range(_PATCHES**2):
        own = patches == patch
        if np.count_nonzero(own) >= _LEAST_POINTS:
            answer = _least_squares(sides[own], grey[own], weights[own])
            if answer is not None:
                said.append(answer[:2])
    if len(said) < _LEAST_PATCHES:
        return None
    apart = np.abs(said - np.median(said, axis=0))
    return float(1.4826 * np.median(apart, axis=0).max() / np.sqrt(len(said)))
