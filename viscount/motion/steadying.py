"""A shaken camera moves all parts of a frame alike: what they have in common is taken out.

What parts of one frame stray from their paths is one displacement of the whole picture, and a
scatter of each part's own (it tumbles). The two are told apart by the covariance of the parts
within frames: a one-way random-effects model, its variances by moments (Searle, Casella,
McCulloch, Variance Components, 1992, chapter 3), the displacement by its best linear prediction.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from viscount import fall
from viscount.motion.detections import Detections
from viscount.motion.paths import Paths, fitted
from viscount.motion.speed import SpeedModel
from viscount.motion.spread import MAD_TO_SIGMA
from viscount.motion.track import Track

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

LEAST_SHAKE_PX = 0.25
"""A picture that moves by less is left as it is."""
MOST_SHAKE_PX = 6.0
"""What would move a picture by more than this is no shake: the paths are wrong."""
CLEARLY = 3.0
"""The covariance of parts in one frame must exceed so many of its own standard deviations."""
CHI2_MEDIAN = 0.4549
"""Median of chi² with one degree of freedom."""
MOST_LEFT_PX = 2.5
"""The most that is put down to how parts turn and tumble."""
BEND, LEAST_BENT = 3, 20
"""Degree of the polynomial that a bend is, and from how many sightings on it is looked for."""
CLIPPED = 3.0
"""Strays beyond so many robust standard deviations tell of mistakes, not of a shake."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """Standard deviations in px along one axis: of the picture, and of each part's own."""

    shake: float
    own: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Strays:
    """How far k sightings lie from their parts' paths.

    Attributes
    ----------
    frame, blob : (k,) the frame's index, and the place of the blob in it.
    along, across : (k,) px from the path, as one more sighting would lie.
    var_along, var_across : (k,) variance that the detector foresees, px².
    """

    frame: Indices
    blob: Indices
    along: Floats
    across: Floats
    var_along: Floats
    var_across: Floats


def strays(tracks: Sequence[Track], model: SpeedModel) -> Strays:
    """Return how far whole sightings stray; `tracks` have three of them and more each."""
    rows = [np.empty((0, 7))]
    if tracks:
        paths = fitted([track.traits.way for track in tracks], model, with_prior=False)
        rows = [_of_track(t, paths.one(k), model) for k, t in enumerate(tracks)]
    table = np.concatenate(rows)
    frame, blob, along, across, var_along, var_across, place = table.T
    return Strays(
        frame=frame.astype(np.intp),
        blob=blob.astype(np.intp),
        along=_unbent(along, place),
        across=across,
        var_along=var_along,
        var_across=var_across,
    )


def _unbent(along: Floats, place: Floats) -> Floats:
    """Return strays without what all parts have in common at one place.

    That is the bend of their paths where the acceleration is not quite what is thought. In an even
    stream the parts of one frame would share it, as they share a shake.
    """
    if along.size < LEAST_BENT:
        return along
    usual = CLIPPED * MAD_TO_SIGMA * float(np.median(np.abs(along)))
    scaled = (place - place.mean()) / max(float(np.ptp(place)), 1.0)
    bend = np.polyfit(scaled, np.clip(along, -usual, usual), BEND)
    return np.asarray(along - np.polyval(bend, scaled))


def _of_track(track: Track, path: Paths, model: SpeedModel) -> Floats:
    sights = track.whole
    t = track.traits.way[0] - path.t_s
    y, _ = fall.place_after(path.y, path.speed, path.acceleration, t)
    x = np.array([s.x for s in sights])
    drift = float(t @ x) / max(float(t @ t), 1e-30)
    # A path bends towards its own sightings; two of its freedoms are spent on place and speed.
    widen = np.sqrt(t.size / (t.size - 2))
    along = widen * (track.traits.way[1] - y)
    across = widen * (x - x.mean() - drift * t)
    shape = model.sigma_shape_px**2
    own = [(s.frame, s.blob, max(s.var_y - shape, 1e-6), s.var_x) for s in sights]
    frame, blob, var_y, var_x = np.array(own).T
    places = track.traits.way[1]
    return np.stack([frame, blob, along, across, var_y, var_x, places], axis=1)


def scatter_of(frame: Indices, away: Floats, var: Floats) -> Scatter:
    """Part the scatter of `away` (k,) into that of whole frames and that of each part.

    Parameters
    ----------
    frame : (k,) which frame each belongs to.
    var : (k,) the detector's own variance of each.
    """
    if away.size < 3:
        return Scatter(shake=0.0, own=0.0)
    usual = MAD_TO_SIGMA * float(np.median(np.abs(away)))
    away = np.clip(away, -CLIPPED * usual, CLIPPED * usual)
    _, inverse, number = np.unique(frame, return_inverse=True, return_counts=True)
    total = np.bincount(inverse, weights=away)
    square = np.bincount(inverse, weights=away**2)
    pairs = float((number * (number - 1)).sum())
    excess = _own(away, var)
    shake2 = float((total**2 - square).sum()) / max(pairs, 1.0)
    # Products of independent strays average out with their number; each pair is counted twice.
    chance = float(np.mean(square)) / float(np.mean(number)) / np.sqrt(max(0.5 * pairs, 1.0))
    if shake2 < CLEARLY * chance:
        return Scatter(shake=0.0, own=excess)
    shake2 = min(shake2, excess**2)
    return Scatter(shake=float(np.sqrt(shake2)), own=float(np.sqrt(excess**2 - shake2)))


def without_shake(
    frames: list[Detections], tracks: Sequence[Track], model: SpeedModel
) -> tuple[list[Detections], SpeedModel]:
    """Return the frames with each picture's displacement taken out, and the model with the scatter
    that is left. The frames themselves come back where no displacement stands out.

    Each part is moved by what the *other* parts of its frame say, so that its own scatter is not
    hidden; what that leaves unknown is added to its variance.
    """
    found = strays(tracks, model)
    shakes = [
        _Shake.of(found, found.along, found.var_along),
        _Shake.of(found, found.across, found.var_across),
    ]
    along, across = shakes
    left = replace(
        model,
        sigma_shape_px=along.left(),
        sigma_side_px=across.left(),
        sigma_shake_px=along.shake_px,
    )
    if not max(along.shake_px, across.shake_px):
        if left.sigma_shape_px >= MOST_LEFT_PX:
            # Parts that stray so far along tell of a wrong speed, not of parts that sway.
            left = replace(left, sigma_side_px=0.0)
        return frames, left
    return [_moved(now, along, across) for now in frames], left


def _moved(now: Detections, along: "_Shake", across: "_Shake") -> Detections:
    if not len(now):
        return now
    dy, var_y = along.of_frame(now.index, len(now))
    dx, var_x = across.of_frame(now.index, len(now))
    return now.moved(dy, dx, var_y, var_x)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shake:
    """The picture's displacement along one axis, frame by frame."""

    found: Strays
    away: Floats
    var: Floats
    scatter: Scatter
    rows: dict[int, Indices]
    """Which strays belong to which frame."""

    @classmethod
    def of(cls, found: Strays, away: Floats, var: Floats) -> "_Shake":
        order = np.argsort(found.frame, kind="stable")
        numbers, begins = np.unique(found.frame[order], return_index=True)
        groups = np.split(order, begins[1:]) if order.size else []
        return cls(
            found=found,
            away=away,
            var=var,
            scatter=scatter_of(found.frame, away, var),
            rows=dict(zip(numbers.tolist(), groups, strict=True)),
        )

    @property
    def shake_px(self) -> float:
        """Standard deviation of what is taken out; 0 where that is nothing."""
        shake = self.scatter.shake
        return shake if LEAST_SHAKE_PX <= shake <= MOST_SHAKE_PX else 0.0

    def of_frame(self, index: int, n: int) -> tuple[Floats, Floats]:
        """Return for each of the frame's n blobs its displacement by the others, and its variance.

        Without any other that is 0, as unsure as the shake is large.
        """
        if not self.shake_px:
            return np.zeros(n), np.zeros(n)
        rows = self.rows.get(index, np.empty(0, dtype=np.intp))
        weight, pull = np.zeros(n), np.zeros(n)
        blob = self.found.blob[rows]
        weight[blob] = 1.0 / (self.var[rows] + self.scatter.own**2)
        pull[blob] = weight[blob] * self.away[rows]
        others = weight.sum() - weight + self.scatter.shake**-2
        return (pull.sum() - pull) / others, 1.0 / others

    def left(self) -> float:
        """Return the scatter that is left of the parts' own once the picture is steadied, px."""
        if not self.away.size:
            return 0.0
        away, var = self.away.copy(), self.var.copy()
        for index, rows in self.rows.items():
            blob = self.found.blob[rows]
            moved, unsure = self.of_frame(index, int(blob.max()) + 1)
            away[rows] -= moved[blob]
            var[rows] += unsure[blob]
        return min(_own(away, var), MOST_LEFT_PX)


def _own(away: Floats, var: Floats) -> float:
    """Return the standard deviation beyond the variances that are foreseen, robustly."""
    return float(np.sqrt(max(np.median(away**2) / CHI2_MEDIAN - np.median(var), 0.0)))
