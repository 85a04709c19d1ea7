"""What a speed model did not foresee of a pour, summed over its frames."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from viscount.motion.detections import Detections
from viscount.motion.prediction import Prediction
from viscount.motion.speed import SpeedModel
from viscount.motion.track import STILL_PX, Track

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

USUAL_DEVIATION = 2.5
"""Half the squared deviation along and across that one match in twelve exceeds by chance."""
PART_SHARE = 0.3
"""Regions below this share of a part's area surprise less, the smaller they are."""
MOST_OF_A_FRAME = 3.0


class Surprise:
    """Large deviations in sigma, and parts that appeared or vanished in plain view.

    Comparable between models of one pour. A model's knowledge of areas alone is used.

    Attributes
    ----------
    sum : of all that was not foreseen.
    standing : how much of that comes from what stands still: a part at rest is no surprise.
    lasting : what is left of the rest where no frame counts for more than `MOST_OF_A_FRAME`. A
        torn picture surprises once, however much; wrong paths surprise in every frame.
    """

    def __init__(self, model: SpeedModel) -> None:
        self._model = model
        self._before: Floats = np.empty((0, 2))
        self.sum = 0.0
        self.standing = 0.0
        self.lasting = 0.0

    def add(
        self,
        deviations: Floats,
        appearing: Floats,
        vanishing: Floats,
        pairs: list[tuple[int, int]],
        tracks: list[Track],
        ahead: Prediction,
        now: Detections,
    ) -> None:
        """Add up how little one frame was foreseen.

        Deviations count only beyond what chance brings, so that neither the number of links
        nor the looseness of a model's predictions weighs for or against it. What is much
        smaller than a part may come, go and swerve as it likes.

        Parameters
        ----------
        deviations : (n, m) half the squared deviation of each blob from each track.
        appearing, vanishing : (m,), (n,) what it costs that a blob is new, that a track has none.
        pairs : (track, blob) that were linked.
        """
        before = self.sum - self.standing
        self._add(deviations, appearing, vanishing, pairs, tracks, ahead, now)
        self.lasting += min(self.sum - self.standing - before, MOST_OF_A_FRAME)

    def _add(
        self,
        deviations: Floats,
        appearing: Floats,
        vanishing: Floats,
        pairs: list[tuple[int, int]],
        tracks: list[Track],
        ahead: Prediction,
        now: Detections,
    ) -> None:
        # What comes in from the side is no part of the pour: a hand, or its shadow.
        new = like_a_part(now.area, self._model) * ~now.cut_side
        lost = like_a_part(ahead.area, self._model) * ~ahead.aside
        for i, j in pairs:
            self.sum += new[j] * max(float(deviations[i, j]) - USUAL_DEVIATION, 0.0)
            new[j] = lost[i] = 0.0
        appeared, vanished = new * appearing, lost * vanishing
        here = np.stack([now.y, now.x], axis=1)
        if appeared.any() or vanished.any():
            self.sum += float(appeared.sum() + vanished.sum())
            there = np.stack([ahead.seen_y, ahead.seen_x], axis=1)
            stays, stood = _meets(here, self._before), _meets(there, here)
            # What has come to rest may be taken away.
            stood |= np.array([track.rests for track in tracks], dtype=bool)
            self.standing += float((stays * appeared).sum() + (stood * vanished).sum())
        self._before = here


def like_a_part(areas: ArrayLike, model: SpeedModel) -> Floats:
    """Return 1 for areas (px) like a part's, down to 0 for specks."""
    usual = PART_SHARE * max(model.area_px, 1e-9)
    return np.asarray(np.minimum(np.asarray(areas, dtype=np.float64) / usual, 1.0) ** 4)


def _meets(places: Floats, others: Floats) -> Flags:
    """Return for each place (n, 2) whether one of the others (m, 2) is the same."""
    apart: Floats = np.abs(places[:, None, :] - others[None, :, :]).max(axis=2)
    return np.asarray(np.any(apart <= STILL_PX, axis=1))
