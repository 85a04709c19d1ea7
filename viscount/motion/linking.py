"""Which blob continues which track: one optimal assignment for each frame.

Costs come from the predicted fall, not from nearness. A blob may also be a part's first
sighting, cheap only where a part can have entered since the last frame; a track may also
end, cheap only where its part can have left, or hidden behind another. All costs are
negative log-likelihoods up to a constant, so 0.5 is what one degree of freedom costs on
average and 8 is a 4-sigma surprise.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from viscount.motion import borders, sharing
from viscount.motion.borders import BESIDE, ENDS, ENTRY, EXIT, ORIGINS, Kinds
from viscount.motion.detections import CORNER_SHARE, Detections
from viscount.motion.geometry import Geometry
from viscount.motion.prediction import Prediction, predict
from viscount.motion.sight import Sight
from viscount.motion.speed import SpeedModel
from viscount.motion.stopping import STANDS, STAY, became_another, met, met_again, stop_costs
from viscount.motion.surprise import Surprise
from viscount.motion.track import STILL_PX, Axis, Track

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

GATE = 30.0
"""A sighting further than this (squared distance in sigma) from its prediction is no match."""
FORBIDDEN = 1e6
SIDEWAYS = 0.12
"""Typical drift across the fall, as a share of the speed along it."""
FIRST_SHAPE_PX = 0.03
"""Scatter of a centre beyond the detector's own sigma, before the pour has taught it."""
SIDE_NOISE_PX2 = 0.25
"""Least variance of a tumbling part's centre across the fall."""
MATCH_NOISE_PX2 = 0.1
"""Variance allowed to a match beyond all that is known: a single frame's compression, a glint,
a part's wobble. Far below the distance to any neighbour."""
AREA_SIGMA = 0.5
"""A part's area may change this much, as a logarithm, from one frame to the next."""
UNLIKE_COST, SPECK_COST = 3.0, 9.0
"""What a change of the area costs at most; and where it is so great that one is a speck."""
SAME_AREA = 0.1
"""As a logarithm, to which a part at rest keeps its area."""
SPECK_GROWTH = 2.0
"""As a logarithm, from which change on one of the two is a speck."""
LIES_PX2 = 1.0
"""Variance of the place of what lies in a region with others: its end is on whole pixels."""
MAX_MISSED = 4
"""Frames for which a part may go unseen in plain view before its track ends."""


class Linker:
    """Follows the parts from frame to frame under one speed model."""

    def __init__(self, geometry: Geometry, model: SpeedModel, *, surprised: bool = True) -> None:
        self._geometry = geometry
        self._surprised = surprised
        self.model = model
        self._active: list[Track] = []
        self._last: Detections | None = None
        self.surprise = Surprise(model)

    @property
    def active(self) -> tuple[Track, ...]:
        """Tracks still being followed."""
        return tuple(self._active)

    def link(self, now: Detections) -> list[Track]:
        """Take in one frame; return the tracks that ended."""
        if not now.seeing:
            return []
        model = self.model
        now = now.completed(
            *(model.ahead_px, model.behind_px, model.sigma_end_px),
            *(model.area_px, model.longest_px),
        )
        tracks = self._active
        if not (tracks or len(now)):
            self._last = now
            return []
        ahead = predict(tracks, now, self._geometry)
        speeds = model.speeds_at(now.time_s, now.y)
        noise = self._noise_y(now, speeds[0])
        centres = _leaving(now, ahead.behind)
        births, origins = borders.births(self._geometry, model, ahead, now, speeds, self._last)
        deaths, ends = borders.deaths(self._geometry, ahead)
        matches, deviations = self._match_costs(tracks, ahead, now, centres, noise)
        unmatched, closed = matches >= FORBIDDEN, births >= BESIDE
        stopping = stop_costs(tracks, ahead, now, self._last, model.area_px, unmatched, closed)
        begun = borders.beginnings(births, now, model)
        left = borders.losses(deaths, ahead, model)
        pairs = _assign(np.minimum(matches, stopping), begun, left)
        linked = {i for i, _ in pairs}
        lost = [i for i in range(len(tracks)) if i not in linked]
        alone = sharing.alone(tracks, ahead, lost, now)
        joined = sharing.joined(tracks, ahead, lost, now)
        if self._surprised:
            # A part that stays away surprises once, and one that shares a region may be anywhere.
            fresh = np.array([not (track.missed or track.covered) for track in tracks], dtype=bool)
            gone = fresh & ~(ahead.covering & joined).any(axis=1)
            deviations = np.where(stopping < np.inf, stopping, deviations)
            births, deaths = (births - ENTRY) * ~joined, (deaths - EXIT) * gone
            self.surprise.add(deviations * alone, births, deaths, pairs, tracks, ahead, now)
        ended = self._lose(tracks, ahead, now, pairs, lost, ends, noise)
        self._carry_on(tracks, now, pairs, alone, centres, noise, stopping)
        self._active = [track for track in tracks if not track.ended]
        taken = {j for _, j in pairs}
        # Parts that are in view already begin no track; who they are is known once they fall alike.
        known = _corners(now, model) | (joined & model.learned)
        for j in range(len(now)):
            if j not in taken and not known[j]:
                at, origin = (speeds[0].item(j), speeds[1].item(j)), ORIGINS[origins[j]]
                started = self._start(now, j, origin, at, noise.item(j), alone=alone.item(j))
                self._active.append(started)
        self._last = now
        return ended

    def finish(self) -> list[Track]:
        """End every track; the clip or the pour is over."""
        ended, self._active = self._active, []
        for track in ended:
            track.ended = track.ended or "last frame"
        return ended

    def _noise_y(self, now: Detections, speed: Floats) -> Floats:
        """Return (m,) the variances of the centres of parts that move at `speed` (m,)."""
        shape = self.model.sigma_shape_px or FIRST_SHAPE_PX
        moved = self._geometry.sigma_frame_s * speed
        return np.asarray(now.var_y + shape**2 + moved**2)

    def _side_noise(self) -> float:
        """Return the variance of centres across the fall beyond what the detector foresees."""
        return max(SIDE_NOISE_PX2, self.model.sigma_side_px**2)

    def _match_costs(
        self,
        tracks: list[Track],
        ahead: Prediction,
        now: Detections,
        centres: Floats,
        noise: Floats,
    ) -> tuple[Floats, Floats]:
        """Return the costs of all pairs, and the part of them that is deviation alone."""
        if not ahead.grown.size:
            nothing = np.full(ahead.grown.shape, FORBIDDEN)
            return nothing, nothing
        var_y = ahead.var_y + noise + MATCH_NOISE_PX2
        var_x = ahead.var_x + now.var_x + self._side_noise()
        d_y = (centres - ahead.y) ** 2 / var_y
        d_x = (now.x - ahead.x) ** 2 / var_x
        unlike = _unlike(ahead, now, learned=self.model.learned)
        loose = 0.5 * np.log(np.maximum(var_y, 0.25) / 0.25)
        deviation = 0.5 * (d_y + d_x)
        cost = deviation + unlike + np.minimum(loose, 4.0)
        never = (d_y + d_x > GATE) | became_another(tracks, ahead, now)
        return np.where(never, FORBIDDEN, cost), deviation

    def _carry_on(
        self,
        tracks: list[Track],
        now: Detections,
        pairs: list[tuple[int, int]],
        alone: Flags,
        centres: Floats,
        noise: Floats,
        stopping: Floats,
    ) -> None:
        """Take the linked blobs into their tracks."""
        noise_x = now.var_x + self._side_noise()
        for i, j in pairs:
            track, stop, single = tracks[i], stopping.item(i, j), alone.item(j)
            var_y, var_x = noise.item(j), noise_x.item(j)
            if not single:
                # In a shared blob the centre says little: either part may be anywhere in it.
                var_y += (0.3 * now.length.item(j)) ** 2
                var_x += (0.3 * now.breadth.item(j)) ** 2
            if stop == STAY:
                track.stay()
                continue
            sight = _sight(now, j, centres.item(i, j), var_y, alone=single)
            if stop < np.inf:
                track.halt(sight, self.model.acceleration)
            else:
                track.take(sight, var_x)

    def _lose(
        self,
        tracks: list[Track],
        ahead: Prediction,
        now: Detections,
        pairs: list[tuple[int, int]],
        lost: list[int],
        ends: Kinds,
        noise: Floats,
    ) -> list[Track]:
        """Take note of the tracks that are `lost`, without a blob; return those that ended."""
        moving = np.zeros(len(now), dtype=bool)
        if any(tracks[i].met for i in lost):
            moves = [j for i, j in pairs if len(tracks[i].sights) > 1 and not tracks[i].rests]
            moving[moves] = True
        return [
            tracks[i]
            for i in lost
            if self._lost(i, tracks[i], ahead, now, ENDS[ends[i]], moving, noise)
        ]

    def _lost(
        self,
        i: int,
        track: Track,
        ahead: Prediction,
        now: Detections,
        end: str,
        moving: Flags,
        noise: Floats,
    ) -> bool:
        """Note that the track has no blob in this frame; return whether it has ended."""
        if end == "hidden":
            track.covered += 1
        else:
            track.missed += 1
        leaves = end in ("exit", "side")
        if track.met is not None:
            track.met = met_again(track.met, moving, now)
        elif not leaves:
            track.met = met(i, track, ahead, now, self.model.area_px)
        if track.met is not None and track.met.times >= STANDS:
            lies, j = track.met.tail + track.behind, track.met.blob
            sight = _sight(now, j, lies, noise.item(j) + LIES_PX2, alone=False)
            track.halt(sight, self.model.acceleration)
            track.ended = "rest"
            return True
        if track.met is not None and track.met.times > 1:
            return False
        if leaves or track.missed > MAX_MISSED or track.covered > 60:
            # What is slow seems to rest in every frame; only what was seen to stop does.
            rests = track.halted_s is not None and track.rests
            track.ended = "rest" if rests and end == "midway" else end
        return bool(track.ended)

    def _start(
        self,
        now: Detections,
        j: int,
        origin: str,
        expected: tuple[float, float],
        var_y: float,
        *,
        alone: bool,
    ) -> Track:
        """Begin a track at the blob `j`, at the `expected` speed with its sigma."""
        model = self.model
        speed, sigma = expected
        strays = origin == "midway" or not model.learned
        stands = origin == "beside" and self._stood(now, j)
        if strays or stands:
            # Nothing says that it came from the outlet: it may stand, or go back up.
            sigma = max(sigma, speed)
        track = Track(
            along=Axis(
                place=now.y.item(j),
                speed=speed,
                var_place=var_y,
                cov=0.0,
                var_speed=sigma**2,
                acceleration=model.acceleration,
                var_acceleration=model.sigma_acceleration**2,
            ),
            across=Axis(
                place=now.x.item(j),
                speed=0.0,
                var_place=now.var_x.item(j) + self._side_noise(),
                cov=0.0,
                var_speed=((SIDEWAYS + 0.5 * strays) * speed) ** 2,
                acceleration=0.0,
                var_acceleration=(0.1 * model.acceleration) ** 2 + model.sigma_acceleration**2,
            ),
            t_s=now.time_s.item(j),
            born=origin,
            born_after_s=-np.inf if self._last is None else self._last.t_s,
        )
        track.show(_sight(now, j, now.y.item(j), var_y, alone=alone))
        return track

    def _stood(self, now: Detections, j: int) -> bool:
        """Whether the same region was at the place of blob `j` in the last frame already."""
        last = self._last
        if last is None or not len(last):
            return False
        far = np.maximum(np.abs(last.y - now.y[j]), np.abs(last.x - now.x[j]))
        grown = np.abs(np.log(last.area / now.area[j]))
        return bool(np.any((far <= STILL_PX) & (grown <= SAME_AREA)))


def _corners(now: Detections, model: SpeedModel) -> Flags:
    """Return for each blob whether it is a lesser corner of a part that a border cuts.

    Such a part may show several corners before, or after, it shows itself.
    """
    small = now.cut & (now.area < CORNER_SHARE * model.area_px)
    if not small.any():
        return small
    same = (now.cut_tail[:, None] & now.cut_tail) | (now.cut_head[:, None] & now.cut_head)
    breadth = np.maximum(now.high[:, None], now.high) - np.minimum(now.low[:, None], now.low)
    larger = now.area[:, None] < now.area
    one = same & larger & (breadth <= model.longest_px)
    return small & one.any(axis=1)


def _unlike(ahead: Prediction, now: Detections, *, learned: bool) -> Floats:
    """Return the costs (n, m) of areas that differ from those of the tracks.

    What a border cut before may only have grown since, what it cuts now only have shrunk. Where
    parts hide each other areas differ, but not as those of a part and a speck do. While nothing
    is learned of how parts move, they are followed through any change.
    """
    grown = np.minimum(ahead.grown, np.where(ahead.cut, 0.0, np.inf)[:, None])
    grown = np.maximum(grown, np.where(now.cut, 0.0, -np.inf))
    cost = grown**2 / (2 * AREA_SIGMA**2)
    speck = learned & (np.abs(grown) > SPECK_GROWTH)
    return np.minimum(cost, np.where(speck, SPECK_COST, UNLIKE_COST))


def _leaving(now: Detections, behind: Floats) -> Floats:
    """Return the centres (n, m) that the blobs have if they are these tracks' parts.

    A part that is leaving shows its upstream end only; its own shape, `behind` (n,) px from
    the centre to that end, says where its centre is.
    """
    own = np.maximum(behind[:, None], 0.5 * now.length)
    return np.where(now.cut_head & ~now.cut_tail, now.tail + own, now.y)


def _assign(match: Floats, births: Floats, deaths: Floats) -> list[tuple[int, int]]:
    """Return the pairs (track, blob) of the cheapest explanation of this frame."""
    n, m = match.shape
    size = n + m
    cost = np.full((size, size), FORBIDDEN)
    cost[:n, :m] = match
    cost[n:, m:] = 0.0
    row_by_row = cost.ravel()
    row_by_row[m : n * size : size + 1] = deaths
    row_by_row[n * size :: size + 1] = births
    _, columns = linear_sum_assignment(cost)
    return [(i, j) for i, j in enumerate(columns[:n].tolist()) if j < m]


def _sight(now: Detections, j: int, y: float, var_y: float, *, alone: bool) -> Sight:
    t_s, x, var_x, length, behind, area, whole, aside, var_along, var_across, waist = now.rows[j]
    # In the order of its fields: by their names it takes three times as long.
    return Sight(
        now.index,
        j,
        t_s,
        y,
        x,
        var_y,
        var_x,
        length,
        behind,
        area,
        whole,
        alone,
        aside,
        var_along,
        var_across,
        waist,
    )
