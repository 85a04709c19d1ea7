"""A detector with a fixed level: whatever is brighter is part."""

from collections.abc import Iterator, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from viscount import Blob, Frame, Options, Seeing, Sighting, View

_SIGMA_PX = 24**-0.5
"""A fixed level knows an edge to one px, which is 1/√12 px as a standard uncertainty (GUM
4.3.7, rectangular distribution); the centre is the mean of two edges, hence 1/√24 px."""


class BrightThresholdOptions(Options):
    """What an outlet file may set under ``detector.options``."""

    level: int = Field(default=160, ge=1, le=254, description="grey that a part is brighter than")
    min_area_px: int = Field(default=12, ge=1, description="smaller regions are not reported")


class BrightThreshold:
    """Sees parts brighter than `level` before a background that is darker.

    It learns nothing: `prime` and `learn` are without effect. When more than half of the
    picture is brighter than the level, it says that it is blind.
    """

    def __init__(self, options: BrightThresholdOptions, view: View) -> None:
        self._options = options
        self._view = view

    def prime(self, frames: Sequence[Frame]) -> None:
        """Do nothing: the level is fixed."""

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        """Return the bright regions of this frame."""
        mask = (frame.pixels > self._options.level).astype(np.uint8)
        if 2 * np.count_nonzero(mask) > mask.size:
            return Sighting(index=frame.index, t_ns=frame.t_ns, blobs=(), state=Seeing.BLIND)
        blobs = tuple(self._blobs(frame.pixels, mask))
        return Sighting(index=frame.index, t_ns=frame.t_ns, blobs=blobs)

    def _blobs(self, pixels: NDArray[np.uint8], mask: NDArray[np.uint8]) -> Iterator[Blob]:
        count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
        for label in range(1, count):
            x, y, width, height, area = (int(value) for value in stats[label])
            if area >= self._options.min_area_px:
                window = np.s_[y : y + height, x : x + width]
                yield self._blob(pixels[window], labels[window] == label, (x, y), mask.shape)

    def _blob(
        self,
        pixels: NDArray[np.uint8],
        region: NDArray[np.bool_],
        corner: tuple[int, int],
        shape: tuple[int, ...],
    ) -> Blob:
        """Measure one region, cut out of the picture at `corner`."""
        x0, y0 = corner
        x1, y1 = x0 + region.shape[1], y0 + region.shape[0]
        # How far above the level a pixel is tells how much of it the part covers.
        weight = np.where(region, pixels.astype(np.float64) - self._options.level, 0.0)
        grey = cv2.moments(weight)
        flat = cv2.moments(region.astype(np.uint8), binaryImage=True)
        area = flat["m00"]
        profile = np.count_nonzero(region, axis=1 if self._view.falls.vertical else 0)
        profile = profile.astype(np.uint16)
        profile.flags.writeable = False
        return Blob(
            x_px=x0 + grey["m10"] / grey["m00"],
            y_px=y0 + grey["m01"] / grey["m00"],
            sigma_x_px=_SIGMA_PX,
            sigma_y_px=_SIGMA_PX,
            area_px=area,
            box=(x0, y0, x1, y1),
            moments=(flat["mu20"] / area, flat["mu11"] / area, flat["mu02"] / area),
            profile=profile,
            cut_by_edge=min(x0, y0) == 0 or x1 == shape[1] or y1 == shape[0],
        )
