"""From a foreground mask to regions: outer contours, cut out one from another.

Regions are 8-connected: pixels that share only a corner belong to one region. A bore is part
of the region around it, never a region of its own.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray

from viscount.vision.bores import bores_of
from viscount.vision.gain import Gain, lit, within

RIM_PX = 2
"""How far a soft edge reaches beyond the foreground mask."""

_RIM = np.ones((3, 3), np.uint8)
_WIDE_RIM = np.ones((2 * RIM_PX + 1, 2 * RIM_PX + 1), np.uint8)

_STRONG = 15.0
"""Noise sigma of mean difference from which on the mask itself reaches far enough into soft
edges for a rim of 1 px to hold the rest."""

_UNMODELLED_GREY = 1.0
"""Grey. What compression adds to the noise of a small region as a whole."""

_OUTLINE = 0.15
"""Where a region's difference falls below this share of its mean, there is only blur, glare or
the ringing of compression, which bridge the gap between close parts."""

_CLEAR_SIGMA, _CLEAR_GREY = 9.0, 6.0
"""Such a bridge is looked for only where the outline stands clear of the threshold."""

_HALO_PX, _HALO_LOSS = 3, 0.02
"""What a region loses with its bridges lies this near to what it keeps, but for this share of
its area; else it was no halo but a dim face of the part."""

_HALO = np.ones((2 * _HALO_PX + 1, 2 * _HALO_PX + 1), np.uint8)

_CRUMB = 0.1
"""Pieces smaller than this share of the largest are crumbs of its halo."""

_EVEN, _EVEN_SIGMA = 0.06, 2.5
"""A background is even where it ranges over less than this share of a part's contrast behind it,
or over so many sigma of a pixel's noise: a background that is learned has noise of its own."""

_LEAST_SHARE = 0.3
"""Where a part has less than this share of its usual contrast, it says little."""

_CLEARANCE_PX = 3
"""The background is not learned this near to a region."""

_SPECK_AREA, _SPECK_STRENGTH, _SPECK_PX = 0.15, 0.1, 6
"""A region so much smaller and fainter than another one this near is the other's ringing."""


@dataclass(slots=True, kw_only=True, eq=False)
class Scene:
    """A frame beside the empty scene.

    Attributes
    ----------
    pixels : uint8 (H, W), the frame.
    level, sigma : float32 (H, W), grey and noise of the empty scene.
    gain : brightness of the frame, or of each of its lines, against `level`.
    """

    pixels: NDArray[np.uint8]
    level: NDArray[np.float32]
    sigma: NDArray[np.float32]
    gain: Gain = 1.0

    def beside(
        self, rows: slice, columns: slice
    ) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Return, for a part of the picture, how far it is from the empty scene, and that.

        Both are in the light of the frame; but under bands of light in that of the empty scene,
        so that they draw no part's centre to where it is brighter.
        """
        pixels, level = self.pixels[rows, columns], self.level[rows, columns]
        if not isinstance(self.gain, np.ndarray):
            level = lit(level, self.gain)
            return pixels - level, level
        gain = within(self.gain, rows, columns)
        level = lit(level, gain)
        return (pixels - level) / gain, level / gain


@dataclass(slots=True, eq=False)
class Region:
    """One connected foreground region, cut out of its frame.

    Attributes
    ----------
    x, y, w, h : box of the foreground, in px of the frame.
    left, top : place in the frame of the arrays' first pixel; they hold the box and its rim.
    own : uint8, 1 where this region is foreground.
    reach : uint8, 1 there and on its rim, but not beside a neighbour.
    rim : how far `reach` goes beyond `own`, in px.
    weights : float32, signed difference from the empty scene within `reach`.
    area : number of pixels of `own`.
    total : sum of the absolute weights over `own`.
    noise : standard deviation of one pixel, in grey.
    contour : int32 (n, 1, 2), the pixels around it, in px of the frame.
    bores : how many openings of about the same size there are in it.
    """

    x: int
    y: int
    w: int
    h: int
    left: int
    top: int
    own: MatLike
    reach: MatLike
    rim: int
    weights: MatLike
    area: int
    total: float
    noise: float
    contour: MatLike
    bores: int

    @property
    def outline(self) -> NDArray[np.int32]:
        """(n, 2) x and y of the pixels around it, in px of the arrays."""
        outline: NDArray[np.int32] = np.subtract(self.contour[:, 0], (self.left, self.top))
        return outline

    def reach_at(self, x0: int, y0: int, x1: int, y1: int) -> MatLike:
        """Return `reach` in a box of the frame that lies within the arrays."""
        return self.reach[y0 - self.top : y1 - self.top, x0 - self.left : x1 - self.left]

    @property
    def strength(self) -> float:
        """Mean difference from the empty scene, in grey."""
        return self.total / self.area


def find_regions(
    mask: MatLike,
    scene: Scene,
    *,
    least_area_px: int = 1,
    least_significance: float = 0.0,
) -> list[Region]:
    """Return the regions of the mask that are real.

    Parameters
    ----------
    mask : uint8 (H, W), 0 background, 1 foreground.
    scene : the frame that the mask belongs to.
    least_area_px : regions with fewer foreground pixels are left out.
    least_significance : regions whose summed difference is less than this many sigma of the
        noise summed over the same pixels are left out.
    """
    regions: list[Region] = []
    for region in _cut_out(mask, scene, least_area_px):
        doubt = math.hypot(region.noise, _UNMODELLED_GREY) * math.sqrt(region.area)
        if region.total >= least_significance * doubt:
            regions += _parted(region, scene, least_area_px)
    return _without_specks(regions)


def clear_of(regions: Sequence[Region], shape: tuple[int, ...], rows: slice) -> NDArray[np.uint8]:
    """Return, for some rows of a frame, 1 where no region is near: there one may learn.

    Specks of noise bar nothing. They would hold the background back from following the light.
    """
    clear: NDArray[np.uint8] = np.ones((rows.stop - rows.start, shape[1]), np.uint8)
    for region in regions:
        top, bottom = region.y - _CLEARANCE_PX, region.y + region.h + _CLEARANCE_PX
        if top < rows.stop and bottom > rows.start:
            left, right = max(0, region.x - _CLEARANCE_PX), region.x + region.w + _CLEARANCE_PX
            clear[max(0, top - rows.start) : bottom - rows.start, left:right] = 0
    return clear


def _cut_out(
    mask: MatLike, scene: Scene, least_area_px: int, parent: Region | None = None
) -> Iterator[Region]:
    """Yield the regions of the mask, which covers the whole frame or the parent's arrays."""
    left, top = (parent.left, parent.top) if parent else (0, 0)
    right, bottom = left + mask.shape[1], top + mask.shape[0]
    every, tree = cv2.findContours(mask, cv2.RETR_TREE, cv2.CHAIN_APPROX_NONE, offset=(left, top))
    # Inside these are bores and what lies in them, part of the region around.
    nested = tree[0].tolist() if every else []
    outer = [k for k, (_, _, _, around) in enumerate(nested) if around < 0]
    contours = [every[k] for k in outer]
    boxes = [cv2.boundingRect(contour) for contour in contours]
    crowded = _crowded(boxes)
    for k, (x, y, w, h) in enumerate(boxes):
        if w * h < least_area_px:
            continue
        x0, y0 = max(left, x - RIM_PX), max(top, y - RIM_PX)
        x1, y1 = min(right, x + w + RIM_PX), min(bottom, y + h + RIM_PX)
        own = here = mask[y0 - top : y1 - top, x0 - left : x1 - left]
        if k in crowded:
            own = np.zeros(here.shape, np.uint8)
            cv2.drawContours(own, [contours[k]], 0, 1, cv2.FILLED, offset=(-x0, -y0))
            own = cv2.bitwise_and(own, here)
        area = cv2.countNonZero(own)
        if area < least_area_px:
            continue
        weights, level = scene.beside(slice(y0, y1), slice(x0, x1))
        total = cv2.norm(weights, cv2.NORM_L1, own)
        noise = _amid(scene.sigma, x, y, w, h)
        low, high, _, _ = cv2.minMaxLoc(level)
        if high - low > max(_EVEN * total / area, _EVEN_SIGMA * noise):
            weights = _evened(weights, level, own)
            total = cv2.norm(weights, cv2.NORM_L1, own)
        strong = total > _STRONG * noise * area
        reach = cv2.dilate(own, _RIM if strong else _WIDE_RIM)
        if k in crowded:
            reach = _clear_of_neighbours(reach, own, here)
        if parent:
            reach = cv2.bitwise_and(reach, parent.reach_at(x0, y0, x1, y1))
        weights *= reach
        rim = 1 if strong else RIM_PX
        bores = bores_of(every, nested, outer[k])
        yield Region(
            x, y, w, h, x0, y0, own, reach, rim, weights, area, total, noise, contours[k], bores
        )


def _evened(
    weights: NDArray[np.float32], level: NDArray[np.float32], own: MatLike
) -> NDArray[np.float32]:
    """Return the difference from the empty scene as it would be were that even behind the part.

    A part of one grey differs more from a bright spot behind it than from a dark one, which
    would draw its centre there. The share of each pixel that it covers, its difference over
    (grey of the part - level), does not know what lies behind.
    """
    inside = cv2.erode(own, _RIM, borderValue=0)
    if not cv2.countNonZero(inside):
        inside = own
    usual, contrast = cv2.mean(level, mask=inside)[0], cv2.mean(weights, mask=inside)[0]
    if not contrast:
        return weights
    # How much of its usual contrast a part of one grey has at each pixel; never next to none.
    share = 1 + (np.float32(usual) - level) / np.float32(contrast)
    return np.asarray(weights / np.maximum(share, np.float32(_LEAST_SHARE)), dtype=np.float32)


def _amid(sigma: NDArray[np.float32], x: int, y: int, w: int, h: int) -> float:
    """Return the noise in the middle of a box, the same however the picture is turned."""
    x0, x1, y0, y1 = x + (w - 1) // 2, x + w // 2, y + (h - 1) // 2, y + h // 2
    pick = sigma.item
    return (pick(y0, x0) + pick(y0, x1) + pick(y1, x0) + pick(y1, x1)) / 4


def _crowded(boxes: Sequence[Sequence[int]]) -> set[int]:
    """Return which boxes, with their rims, meet another box."""
    crowded: set[int] = set()
    order = sorted([(y, y + h + RIM_PX, x, x + w, k) for k, (x, y, w, h) in enumerate(boxes)])
    for place, (_, bottom, left, right, k) in enumerate(order, start=1):
        for top, _, other_left, other_right, other in order[place:]:
            if top >= bottom:
                break
            if other_left < right + RIM_PX and other_right > left - RIM_PX:
                crowded.update((k, other))
    return crowded


def _clear_of_neighbours(reach: MatLike, own: MatLike, here: MatLike) -> MatLike:
    """Take away from the rim what lies beside another region's foreground."""
    others = cv2.subtract(here, own)
    return cv2.max(own, cv2.subtract(reach, cv2.dilate(others, _RIM)))


def _parted(region: Region, scene: Scene, least_area_px: int) -> list[Region]:
    """Part what only a halo joined."""
    outline = _OUTLINE * region.strength
    if outline < max(_CLEAR_GREY, _CLEAR_SIGMA * region.noise):
        return [region]
    core = (np.abs(region.weights) > outline).view(np.uint8) * region.own
    contours, _ = cv2.findContours(core, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if len(contours) == 1:
        return [region]
    near = cv2.dilate(core, _HALO)
    if cv2.countNonZero(cv2.subtract(region.own, near)) > _HALO_LOSS * region.area:
        return [region]
    pieces = list(_cut_out(core, scene, least_area_px, region))
    largest = max((piece.area for piece in pieces), default=0)
    pieces = [piece for piece in pieces if piece.area >= _CRUMB * largest]
    return pieces if len(pieces) > 1 else [region]


def _without_specks(regions: list[Region]) -> list[Region]:
    """Leave out the small faint regions that strong ones cast around themselves."""
    if len(regions) < 2:
        return regions
    largest = max(region.area for region in regions)
    return [
        region
        for region in regions
        if region.area >= _SPECK_AREA * largest
        or not any(_casts(other, region) for other in regions)
    ]


def _casts(strong: Region, speck: Region) -> bool:
    return (
        speck.area < _SPECK_AREA * strong.area
        and speck.strength < _SPECK_STRENGTH * strong.strength
        and strong.x - _SPECK_PX <= speck.x + speck.w
        and speck.x <= strong.x + strong.w + _SPECK_PX
        and strong.y - _SPECK_PX <= speck.y + speck.h
        and speck.y <= strong.y + strong.h + _SPECK_PX
    )
