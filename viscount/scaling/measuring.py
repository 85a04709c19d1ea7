"""A detector that measures each part as it is seen; keeps numbers, no pictures."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.measure.scale.extent import Extent, extent
from viscount.seams import Detector
from viscount.values import Blob, Falls, Frame, Sighting

Grey = NDArray[np.float32]

_AROUND_PX, _AROUND_SHARE = 5, 0.25
"""Background around a part that is looked at with it: so many px and such a share of its size."""
_MOST = 20_000
"""Measured sightings that are kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One part in one frame: its centre in the region as the detector saw it, its extent.

    `sigma_px` is the detector's, along the fall.
    """

    x_px: float
    y_px: float
    sigma_px: float
    extent: Extent | None


class Measuring:
    """Passes frames to a detector, and measures what it finds.

    Parameters
    ----------
    inner : the detector that does the seeing.
    falls : direction of the fall.
    """

    def __init__(self, inner: Detector, falls: Falls) -> None:
        self._inner = inner
        self._falls = falls
        self._level: Grey | None = None
        self._found: dict[int, list[Measured]] = {}
        self._kept = 0

    def prime(self, frames: Sequence[Frame]) -> None:
        """Prime the detector; the median of these frames stands for the empty scene."""
        self._inner.prime(frames)
        chosen = [frames[i].pixels for i in np.linspace(0, len(frames) - 1, 25).round().astype(int)]
        self._level = np.median(np.stack(chosen), axis=0).astype(np.float32)

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        """See, and measure."""
        sighting = self._inner.see(frame, learn=learn)
        if self._level is not None and self._kept < _MOST:
            for blob in sighting.blobs:
                if not blob.cut_by_edge:
                    self._kept += 1
                    vertical = self._falls.vertical
                    found = Measured(
                        x_px=blob.x_px,
                        y_px=blob.y_px,
                        sigma_px=blob.sigma_y_px if vertical else blob.sigma_x_px,
                        extent=self._measured(frame.pixels, blob, sighting),
                    )
                    self._found.setdefault(frame.index, []).append(found)
        return sighting

    def at(self, frame: int, x_px: float, y_px: float, within_px: float) -> Measured | None:
        """Return the part that is nearest a place of the region in a frame."""
        near = [
            (abs(one.x_px - x_px) + abs(one.y_px - y_px), one) for one in self._found.get(frame, ())
        ]
        distance, one = min(near, key=lambda pair: pair[0], default=(np.inf, None))
        return one if distance <= within_px else None

    def _measured(self, pixels: NDArray[np.uint8], blob: Blob, sighting: Sighting) -> Extent | None:
        level = self._level
        if level is None or level.shape != pixels.shape:
            return None
        x0, y0, x1, y1 = blob.box
        more_x = _AROUND_PX + round(_AROUND_SHARE * (x1 - x0))
        more_y = _AROUND_PX + round(_AROUND_SHARE * (y1 - y0))
        left, right = max(x0 - more_x, 0), min(x1 + more_x, pixels.shape[1])
        top, bottom = max(y0 - more_y, 0), min(y1 + more_y, pixels.shape[0])
        here = (slice(top, bottom), slice(left, right))
        light = level[here]
        difference = light - pixels[here]
        ring = np.ones(difference.shape, dtype=np.bool_)
        ring[y0 - top - 1 : y1 - top + 1, x0 - left - 1 : x1 - left + 1] = False
        for other in sighting.blobs:
            if other is not blob:
                a0, b0, a1, b1 = other.box
                # A neighbour is not part of this one, nor of the background.
                other_here = (
                    slice(max(b0 - 1 - top, 0), max(b1 + 1 - top, 0)),
                    slice(max(a0 - 1 - left, 0), max(a1 + 1 - left, 0)),
                )
                ring[other_here] = False
                difference[other_here] = 0.0
        if np.count_nonzero(ring) > 8:
            # The light of this frame may differ from the empty scene's.
            difference = difference - float(np.median(difference[ring]))
        difference = np.abs(difference)
        upright = difference if self._falls.vertical else difference.T
        return extent(upright.astype(np.float64))
