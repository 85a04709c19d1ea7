"""Frames that show the picture of the frame before them while parts are in view.

Encoders change a repeated picture by a trace, and leave empty scenes as they are: so pictures
are compared only where parts are, and to within less than the noise. What lies still for longer
than a camera repeats a picture is no repeat.
"""

from collections import deque
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from viscount.checking.series import Series
from viscount.values import Blob, Frame, Sighting

SAME_GREY, SAME_SHARE = 0.5, 0.05
"""Mean difference inside the regions, in grey or as a share of the usual one, below which the
picture is the one before."""

MOVES_GREY = 4.0
"""The difference before and after, from which on things are in motion."""

_LONGEST = 4
"""Repeats on end: 24 pictures a second stored as 120 frames."""

_STILL_PX = 1.5
"""What moves by less in the time of the longest repeat stands still, or creeps."""


class Repeats:
    """Compares each frame with the one before, where parts are in view."""

    def __init__(self) -> None:
        self._before: NDArray[np.uint8] | None = None
        self._busy = False
        self._apart = Series("frame", "grey")
        self._places: deque[NDArray[np.float64]] = deque(maxlen=_LONGEST + 2)

    def skipped(self, frame: Frame) -> None:
        """Hear of a frame that equals the one before and was shown to no detector."""
        if self._busy:
            self._apart.add(frame=frame.index, grey=0.0)

    def add(self, frame: Frame, seen: Sighting) -> None:
        """Look at one frame and what was seen in it."""
        before, self._before = self._before, frame.pixels
        was_busy, self._busy = self._busy, bool(seen.blobs)
        moving = self._moving(seen)
        if before is None or not (was_busy and moving) or frame.damaged:
            return
        total = area = 0.0
        for blob in moving:
            x0, y0, x1, y1 = blob.box
            now, then = frame.pixels[y0:y1, x0:x1], before[y0:y1, x0:x1]
            total += float(np.abs(now.astype(np.int16) - then).sum())
            area += now.size
        self._apart.add(frame=frame.index, grey=total / max(area, 1.0))

    def _moving(self, seen: Sighting) -> list[Blob]:
        """Return the regions where none was a little longer ago than repeats last."""
        places = np.array([(blob.x_px, blob.y_px) for blob in seen.blobs]).reshape(-1, 2)
        self._places.append(places)
        earlier = self._places[0]
        apart = np.abs(places[:, None, :] - earlier[None, :, :]).max(axis=2)
        still = (apart <= _STILL_PX).any(axis=1) & (len(self._places) > _LONGEST)
        return [blob for blob, stands in zip(seen.blobs, still, strict=True) if not stands]

    def found(self) -> tuple[int, ...]:
        """Return the indices of the frames that repeat the one before, in the midst of motion."""
        frames, grey = self._apart["frame"].astype(int), self._apart["grey"]
        if not frames.size:
            return ()
        least = max(SAME_GREY, SAME_SHARE * float(np.median(grey)))
        found: list[int] = []
        for same, group in groupby(range(frames.size), lambda place: bool(grey[place] < least)):
            run = list(group)
            before, after = run[0] - 1, run[-1] + 1
            ends = after >= frames.size or frames[after] != frames[after - 1] + 1
            enters = before < 0 or frames[before] != frames[before + 1] - 1
            moving = (
                not ends and grey[after] >= MOVES_GREY and (enters or grey[before] >= MOVES_GREY)
            )
            if same and moving and len(run) <= _LONGEST:
                found += [int(frames[place]) for place in run]
        return tuple(found)
