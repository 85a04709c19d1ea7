"""The place of a region: grey-weighted centre, its uncertainty, and the shape around it."""

import math
from collections.abc import Sequence

import cv2
import numpy as np
from cv2.typing import MatLike

from viscount.values import Blob
from viscount.vision.regions import Region
from viscount.vision.waist import waist_of

_EDGE_VARIANCE = 2 / 720
"""What the pixel grid adds to the variance of a centre, times the squared width of the region
(px^4). Where a sharp edge covers its last pixels to the share c, the centre is off by
c(1 - c)/2 over the width; that has variance 1/720 for uniform c, and there are two edges."""

_FAINT = 4.0
"""Noise sigma of mean difference at which the noise of where the mask ends weighs as much as
that of the pixels inside it (by simulation, for edges blurred over 0 to 2 px)."""

_PIXEL = 1 / 12
"""px². Second moment of a single pixel, the least there is."""

_PURE = 0.97
"""A region is wholly dark or wholly bright where its signed sum is this share of the whole."""


def along_fall(
    regions: Sequence[Region], shape: tuple[int, ...], *, vertical: bool
) -> tuple[Blob, ...]:
    """Measure regions, in order of their image coordinate along the fall."""
    blobs = [blob_of(region, shape, vertical=vertical) for region in regions]
    blobs.sort(key=_along_y if vertical else _along_x)
    return tuple(blobs)


def _along_y(blob: Blob) -> tuple[float, float]:
    return blob.y_px, blob.x_px


def _along_x(blob: Blob) -> tuple[float, float]:
    return blob.x_px, blob.y_px


def blob_of(region: Region, shape: tuple[int, ...], *, vertical: bool) -> Blob:
    """Measure one region.

    The centre is the first moment of the difference from the empty scene; its noise is that
    of the pixels it is taken over, var(x) = sigma² Σ(x - x̄)² / (Σw)², carried through the
    quotient Σwx / Σw.

    Parameters
    ----------
    region : as cut out of its frame.
    shape : (height, width) of the frame.
    vertical : whether the fall runs along y.
    """
    x, y, w, h = region.x, region.y, region.w, region.h
    moments = cv2.moments(region.weights)
    if abs(moments["m00"]) < _PURE * region.total:
        moments = cv2.moments(_one_sign(region, moments["m00"]))
    mass = moments["m00"]
    xx, xy, yy = moments["mu20"] / mass, moments["mu11"] / mass, moments["mu02"] / mass
    if xx < _PIXEL or yy < _PIXEL or xy * xy > xx * yy:
        xx, xy, yy = _possible(xx, xy, yy)
    cx = region.left + moments["m10"] / mass
    cy = region.top + moments["m01"] / mass
    reach = cv2.countNonZero(region.reach)
    faint = (_FAINT * region.noise / region.strength) ** 2
    noise = (1 + faint) * reach * (region.noise / mass) ** 2
    var_x = noise * _noise_moment(xx, w, region.rim, cx - x) + _EDGE_VARIANCE / (w * w)
    var_y = noise * _noise_moment(yy, h, region.rim, cy - y) + _EDGE_VARIANCE / (h * h)
    left, top = x - region.left, y - region.top
    shown = region.own[top : top + h, left : left + w]
    profile = np.add.reduce(shown, 1 if vertical else 0, np.uint16)
    profile.setflags(write=False)
    return Blob(
        x_px=cx,
        y_px=cy,
        sigma_x_px=math.sqrt(var_x),
        sigma_y_px=math.sqrt(var_y),
        area_px=float(region.area),
        box=(x, y, x + w, y + h),
        moments=(xx, xy, yy),
        profile=profile,
        cut_by_edge=x == 0 or y == 0 or x + w == shape[1] or y + h == shape[0],
        waist=waist_of(region, (xx, xy, yy)),
        bores=region.bores,
    )


def _possible(xx: float, xy: float, yy: float) -> tuple[float, float, float]:
    """Keep second moments possible where the noise of a sliver's rim outweighs it."""
    xx, yy = max(xx, _PIXEL), max(yy, _PIXEL)
    most = math.sqrt(xx * yy)
    return xx, min(max(xy, -most), most), yy


def _noise_moment(moment: float, width: int, rim: int, centre: float) -> float:
    """Return the second moment about the centre of the pixels that bring in noise.

    They reach further than the weights, by the rim and half a pixel of soft edge; where the
    weights lie off the middle of the region the noise does not.
    """
    off = centre - (width - 1) / 2
    return moment * ((width + 2 * rim + 1) / width) ** 2 + off * off


def _one_sign(region: Region, total: float) -> MatLike:
    """Let dark and bright pixels of a mixed region both add to its weight."""
    weights = region.weights if total >= 0 else -region.weights
    return np.where(region.own > 0, np.abs(weights), weights)
