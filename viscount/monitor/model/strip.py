"""The line strip as it grows: what passed the counting line, against time.

Each frame lends the pixels that pass the line about its time: those upstream of the line have
still to reach it, those downstream have passed it, at the speed with which parts fall. Nothing
but the latest few thousand frames is kept.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.monitor.model.scenery import Scenery

Pixels = NDArray[np.uint8]
Floats = NDArray[np.float64]

LIMIT_BYTES: Final = 32 << 20
MOST_ACROSS: Final = 240
"""More lines across the fall than these are thinned out."""
_SHARE, _LEAST_PX, _MOST_PX = 0.12, 12, 96
GAP_FACTOR: Final = 2.5
"""Times further from a frame than so many intervals were not seen."""


class Strip:
    """Keeps a band about the line of each of the latest frames.

    Parameters
    ----------
    scenery : where the line is.
    limit_bytes : how much the bands may take.
    """

    def __init__(self, scenery: Scenery, limit_bytes: int = LIMIT_BYTES) -> None:
        along, row = scenery.along_px, round(scenery.line_row)
        half = int(np.clip(_SHARE * along, _LEAST_PX, _MOST_PX))
        centre = int(np.clip(row, 0, along - 1))
        self._scenery = scenery
        self._rows = max(centre - half, 0), min(centre + half + 1, along)
        self._zero = centre - self._rows[0]
        self.step = -(-scenery.across_px // MOST_ACROSS)
        across = -(-scenery.across_px // self.step)
        size = (self._rows[1] - self._rows[0]) * across
        self._frames = max(limit_bytes // size, 16)
        self._bands = np.zeros((0, self._rows[1] - self._rows[0], across), np.uint8)
        self._times = np.zeros(0)
        self._count = 0
        self._last_s = -np.inf

    def __len__(self) -> int:
        return min(self._count, self._frames)

    @property
    def nbytes(self) -> int:
        """Memory in use."""
        return self._bands.nbytes + self._times.nbytes

    @property
    def interval_s(self) -> float:
        """Usual time from frame to frame; 0 before there are two."""
        times = self._ordered()[1]
        return float(np.median(np.diff(times[-64:]))) if len(times) > 1 else 0.0

    def add(self, t_s: float, pixels: Pixels, shrunk: int = 1) -> None:
        """Take a frame, in order of time; `shrunk` says that only every so many lines came."""
        if t_s <= self._last_s:
            return
        self._last_s = t_s
        self._grow()
        upright = self._scenery.upright(pixels)
        low, high = self._rows
        if shrunk == 1:
            band = upright[low:high, :: self.step]
        else:
            rows = np.clip(np.arange(low, high) // shrunk, 0, upright.shape[0] - 1)
            columns = np.arange(0, self._scenery.across_px, self.step) // shrunk
            band = upright[np.ix_(rows, np.clip(columns, 0, upright.shape[1] - 1))]
        place = self._count % self._frames
        self._bands[place, :, : band.shape[1]] = band
        self._times[place] = t_s
        self._count += 1

    def clear(self) -> None:
        """Forget all frames."""
        self._count, self._last_s = 0, -np.inf

    def picture(
        self, start_s: float, end_s: float, width: int, speed_px_s: Floats | float
    ) -> tuple[Pixels, NDArray[np.bool_]]:
        """Return what passed the line in a stretch of time, and which columns were seen.

        Parameters
        ----------
        width : columns, one for each step of time.
        speed_px_s : along the fall, (width,) or one for all; 0 shows frame after frame.
        """
        order, times = self._ordered()
        across = self._bands.shape[2] if len(self._bands) else 1
        if not len(times) or width < 1:
            return np.zeros((across, max(width, 1)), np.uint8), np.zeros(max(width, 1), bool)
        at = start_s + (np.arange(width) + 0.5) * (end_s - start_s) / width
        above = np.clip(np.searchsorted(times, at), 1, max(len(times) - 1, 1))
        nearer = np.abs(at - times[above - 1]) <= np.abs(times[min(len(times) - 1, 1)] - at)
        if len(times) > 1:
            nearer = np.abs(at - times[above - 1]) <= np.abs(times[above] - at)
        nearest = np.where(nearer, above - 1, np.minimum(above, len(times) - 1))
        late = at - times[nearest]
        offset = self._zero - np.rint(speed_px_s * late).astype(int)
        rows = np.clip(offset, 0, self._bands.shape[1] - 1)
        seen = np.abs(late) <= GAP_FACTOR * max(self.interval_s, 1e-3) / 2
        return np.ascontiguousarray(self._bands[order[nearest], rows].T), seen

    def _grow(self) -> None:
        have = len(self._bands)
        if self._count >= have and have < self._frames:
            more = min(max(2 * have, 64), self._frames)
            bands = np.zeros((more, *self._bands.shape[1:]), np.uint8)
            times = np.zeros(more)
            bands[:have], times[:have] = self._bands, self._times
            self._bands, self._times = bands, times

    def _ordered(self) -> tuple[NDArray[np.int_], Floats]:
        """Return the places of the frames kept, oldest first, and their times."""
        first = max(self._count - self._frames, 0)
        order = np.arange(first, self._count) % max(self._frames, 1)
        return order, self._times[order] if len(order) else np.zeros(0)
