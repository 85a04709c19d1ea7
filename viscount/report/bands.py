"""What a strip is cut from: of every frame, the band of pixels about the counting line."""

from array import array

import cv2
import numpy as np
from numpy.typing import NDArray

from viscount.motion.geometry import Geometry
from viscount.report.motion import Motion
from viscount.values import Frame

Pixels = NDArray[np.uint8]
Floats = NDArray[np.float64]

LIMIT_BYTES = 64 * 1024**2
"""So much is kept at most; beyond, all bands are halved in size, and in the end no more kept."""

_SHARE = 0.25
_LEAST_HALF_PX = 24
_WIDEST_PX = 240
_SMALLEST_PX = 8
_LONGEST_REACH = 2.5


class Bands:
    """The bands of a run's frames, each turned so that its first axis runs down the fall.

    Parameters
    ----------
    geometry : line, view and readout.
    limit_bytes : how much memory they may take.
    """

    def __init__(self, geometry: Geometry, limit_bytes: int = LIMIT_BYTES) -> None:
        self._geometry = geometry
        self._limit = limit_bytes
        self._half = _half_px(geometry)
        # Bands are cut about a whole pixel; the line may lie beside it.
        beside = geometry.falls.sign * (geometry.line_px - round(geometry.line_px))
        self._line = self._half[0] + beside
        self._step = 1
        while self.across_px > _WIDEST_PX * self._step:
            self._step *= 2
        self._bands: list[Pixels] = []
        self._bytes = 0
        self._times = array("q")
        self._first_ns: int | None = None
        self._whole = True

    @property
    def step(self) -> int:
        """How many px of the picture, along and across the fall, one kept pixel stands for."""
        return self._step

    @property
    def whole(self) -> bool:
        """Whether every frame could be kept."""
        return self._whole

    @property
    def times_s(self) -> Floats:
        """When the counting line was exposed, (n,), seconds after the first frame's time."""
        start = self._first_ns or 0
        own = np.asarray(self._times, dtype=np.int64)
        return np.asarray((own - start) * 1e-9 + self._delays()[0])

    @property
    def interval_s(self) -> float:
        """Usual time from one frame to the next; 1 s where there is only one."""
        steps = np.diff(np.asarray(self._times, dtype=np.int64))
        return float(np.median(steps)) * 1e-9 if steps.size else 1.0

    @property
    def span_s(self) -> tuple[float, float]:
        """The time that the frames stand for."""
        times, half = self.times_s, self.interval_s / 2
        return float(times[0]) - half, float(times[-1]) + half

    @property
    def across_px(self) -> int:
        """Width of the view across the fall."""
        x0, y0, x1, y1 = self._geometry.view
        return x1 - x0 if self._geometry.falls.vertical else y1 - y0

    @property
    def side_px(self) -> float:
        """Image coordinate across the fall where the view begins."""
        return self._geometry.sides[0]

    def add(self, frame: Frame) -> None:
        """Copy a frame's band. A picture shown again under a new time is left out."""
        if self._first_ns is None:
            self._first_ns = frame.t_ns
        if frame.repeated or not self._whole:
            return
        band = _shrunk(self._cut(frame.pixels), self._step)
        self._bands.append(band)
        self._times.append(frame.t_ns)
        self._bytes += band.nbytes
        if self._bytes > self._limit:
            self._make_room()

    def columns(self, at_s: Floats, motion: Motion) -> tuple[Pixels, NDArray[np.bool_]]:
        """Return the counting line as it was at each of these moments.

        Between two frames the line is not looked at; but what crosses it then is a little above
        it in the frame before, or a little below it in the frame after. With speed v, what was
        on the line at time t is v (T - t) below it in a frame of time T.

        Parameters
        ----------
        at_s : (n,) moments, ascending.
        motion : the law of the fall; where no speed is known the nearest line itself is taken.

        Returns
        -------
        pixels : uint8, (across, n).
        seen : (n,) whether some frame shows that moment.
        """
        times = self.times_s
        nearest = _nearest(times, at_s)
        ahead = times[nearest] - at_s
        # A part at x px below the line is seen by a line exposed that much later.
        speed = motion.speed(at_s)
        stretch = np.maximum(1.0 - speed * self._delays()[1], 0.2)
        below = (speed + motion.acceleration_px_s2 * ahead / 2) * ahead / stretch
        place = (below + self._line + 0.5) / self._step - 0.5
        last = self._bands[0].shape[0] - 1
        seen = (place > -0.5) & (place < last + 0.5)
        seen &= np.abs(ahead) <= _LONGEST_REACH * self.interval_s
        first = int(nearest[0])
        stack = np.stack(self._bands[first : int(nearest[-1]) + 1])
        inside = np.clip(place, 0, last)
        index = np.minimum(inside.astype(np.intp), max(last - 1, 0))
        share = (inside - index).astype(np.float32)[:, None]
        upper, lower = (stack[nearest - first, np.minimum(index + k, last)] for k in (0, 1))
        mixed = (1 - share) * upper + share * lower
        return np.rint(mixed).astype(np.uint8).T, seen

    def nearest(self, at_s: Floats, usual: Pixels) -> tuple[Pixels, NDArray[np.bool_]]:
        """Return the same where no speed is known: what differs most anywhere in the band.

        Parameters
        ----------
        at_s : (n,) moments, ascending.
        usual : (across,) what the line usually shows.
        """
        times = self.times_s
        frames = _nearest(times, at_s)
        first, last = int(frames[0]), int(frames[-1])
        lines = [_most_unusual(band, usual) for band in self._bands[first : last + 1]]
        seen = np.abs(times[frames] - at_s) <= _LONGEST_REACH * self.interval_s
        return np.stack(lines)[frames - first].T, seen

    def background(self) -> Pixels:
        """Return what the counting line usually shows, uint8, (across,)."""
        every = max(len(self._bands) // 200, 1)
        row = min(self._half[0] // self._step, self._bands[0].shape[0] - 1)
        lines = np.stack([band[row] for band in self._bands[::every]])
        return np.asarray(np.median(lines, axis=0), dtype=np.uint8)

    def _cut(self, pixels: Pixels) -> Pixels:
        x0, y0, x1, y1 = self._geometry.view
        falls, line = self._geometry.falls, round(self._geometry.line_px)
        above, below = self._half if falls.sign > 0 else self._half[::-1]
        along = slice(line - above, line + below + 1)
        band = pixels[along, x0:x1] if falls.vertical else pixels[y0:y1, along].T
        return band if falls.sign > 0 else band[::-1]

    def _delays(self) -> tuple[float, float]:
        """Return how much after a frame's time the line is exposed, and by how much later
        each px below it."""
        geometry = self._geometry
        middle = sum(geometry.sides) / 2
        along = geometry.line_px + np.array([0.0, geometry.falls.sign])
        across = np.full(2, middle)
        x, y = (across, along) if geometry.falls.vertical else (along, across)
        on_line, below = geometry.line_delay_s(x, y)
        return float(on_line), float(below - on_line)

    def _make_room(self) -> None:
        if min(self._bands[0].shape) < 2 * _SMALLEST_PX:
            self._whole = False
            return
        for place, band in enumerate(self._bands):
            self._bands[place] = _shrunk(band, 2)
        self._step *= 2
        self._bytes = sum(band.nbytes for band in self._bands)


def _half_px(geometry: Geometry) -> tuple[int, int]:
    """Return how many px above and below the line a band holds, inside the view.

    A part that can be counted at all is seen twice, so that it moves by less than half the
    view from frame to frame; a band needs no more than half of that way on either side.
    """
    above, below = -geometry.top, geometry.bottom
    half = max(_SHARE * (above + below), _LEAST_HALF_PX)
    return int(min(half, above - 0.5)), int(min(half, below - 0.5))


def _shrunk(band: Pixels, step: int) -> Pixels:
    """Return a smaller copy; rows and columns left over at the ends are dropped."""
    if step == 1:
        return band.copy()
    rows, columns = max(band.shape[0] // step, 1), max(band.shape[1] // step, 1)
    even = np.ascontiguousarray(band[: rows * step, : columns * step])
    return np.asarray(cv2.resize(even, (columns, rows), interpolation=cv2.INTER_AREA), np.uint8)


def _most_unusual(band: Pixels, usual: Pixels) -> Pixels:
    off = np.abs(band.astype(np.int16) - usual)
    return np.asarray(np.take_along_axis(band, off.argmax(axis=0)[None], axis=0)[0])


def _nearest(times: Floats, at: Floats) -> NDArray[np.intp]:
    after = np.clip(np.searchsorted(times, at), 1, max(times.size - 1, 1))
    before = after - 1
    after = np.minimum(after, times.size - 1)
    closer = np.abs(times[after] - at) < np.abs(at - times[before])
    return np.where(closer, after, before)
