"""The sightings as a user of a general-purpose tracker would prepare them.

All that a careful look at the first part tells is worked out here once and given to every
rival alike: how far a lone part moves from frame to frame, and so where parts first appear.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from viscount.values import Blob, Falls, Sighting

Floats = NDArray[np.float64]

SPECK = 0.25
"""Blobs below this share of the usual area are left out: specks and noise, not parts."""
LEAST_MOVE_PX = 1.0
"""A lone blob that moves less than this down from frame to frame is no falling part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """One frame that shows something; n points.

    Attributes
    ----------
    number : the camera's count of frames, by their times: lost frames leave gaps.
    place : (n, 2) centres in px: down the fall from the upstream border, and across it.
    whole : (n,) not cut by the border of the picture.
    """

    number: int
    place: Floats
    whole: NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Stream:
    """What a rival is told.

    Attributes
    ----------
    sightings : what our own detector saw, frame by frame.
    falls, line_px : the direction of the fall, and the line's image coordinate along it.
    picture : (height, width) in px.
    fps : the camera's rate on the clock of the sightings.
    """

    sightings: Sequence[Sighting]
    falls: Falls
    line_px: float
    picture: tuple[int, int]
    fps: float

    @cached_property
    def length(self) -> int:
        """Extent of the picture along the fall, px."""
        return self.picture[0] if self.falls.vertical else self.picture[1]

    @cached_property
    def line(self) -> float:
        """The line's place, px down the fall from the upstream border."""
        return self._down(self.line_px)

    @cached_property
    def frames(self) -> list[Points]:
        """The frames that show something, in order, without specks."""
        areas = [b.area_px for s in self.sightings for b in s.blobs if not b.cut_by_edge]
        least = SPECK * float(np.median(areas)) if areas else 0.0
        found = []
        number, before_ns = 0, self.sightings[0].t_ns if self.sightings else 0
        for sighting in self.sightings:
            number += max(round((sighting.t_ns - before_ns) * 1e-9 * self.fps), 1)
            before_ns = sighting.t_ns
            blobs = [b for b in sighting.blobs if b.area_px >= least]
            if blobs:
                place = np.array([self._place(b) for b in blobs])
                whole = np.array([not b.cut_by_edge for b in blobs])
                found.append(Points(number=number, place=place, whole=whole))
        return found

    @cached_property
    def lone_moves(self) -> tuple[Floats, Floats]:
        """Where lone parts were, and how far they moved by the next frame; (n, 2) each."""
        pairs = [
            (one.place[0], two.place[0] - one.place[0])
            for one, two in pairwise(self.frames)
            if two.number == one.number + 1
            and len(one.place) == len(two.place) == 1
            and (one.whole.all() and two.whole.all())
            and two.place[0, 0] - one.place[0, 0] > LEAST_MOVE_PX
        ]
        if not pairs:
            return np.empty((0, 2)), np.empty((0, 2))
        return np.array([place for place, _ in pairs]), np.array([move for _, move in pairs])

    @cached_property
    def entry_move(self) -> float | None:
        """How far a part moves in one frame near where it enters; None where none was alone."""
        places, moves = self.lone_moves
        if not len(places):
            return None
        early = places[:, 0] <= np.quantile(places[:, 0], 0.25)
        return float(np.median(moves[early, 0]))

    @cached_property
    def spacing(self) -> float | None:
        """The usual distance from a part to its nearest neighbour in a frame, px."""
        nearest = [
            float(np.sort(np.hypot(*(frame.place - place).T))[1])
            for frame in self.frames
            if len(frame.place) > 1
            for place in frame.place
        ]
        return float(np.median(nearest)) if nearest else None

    def crossed(self, down: Sequence[float]) -> bool:
        """Whether a track whose places are `down` (px down the fall) is a part that crossed.

        It begins above the line, or in the region where parts first appear, and ends below it,
        or so near the downstream border that its last move takes it out of the picture.
        """
        if len(down) < 2:
            return False
        start = max(self.line, self.entry_move or 0.0)
        leaving = down[-1] + (down[-1] - down[-2])
        end = leaving if leaving >= self.length else down[-1]
        return down[0] < start and end >= self.line and end > down[0]

    def _place(self, blob: Blob) -> tuple[float, float]:
        along, across = (blob.y_px, blob.x_px) if self.falls.vertical else (blob.x_px, blob.y_px)
        return self._down(along), across

    def _down(self, along_px: float) -> float:
        return along_px if self.falls.sign > 0 else self.length - 1 - along_px
