"""Which blob continues which track: one optimal assignment for each frame.

Costs come from the predicted fall, not from nearness. A blob may also be a part's first
sighting, cheap only where a part can have entered since the last frame; a track may also
end, cheap only where its part can have left, or hidden behind another. All costs are
negative log-likelihoods up to a constant, so 0.5 is what one degree of freedom costs on
average and 8 is a 4-sigma surprise.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.motion import borders, sharing
from viscount.motion.borders import BESIDE, ENDS, ENTRY, EXIT, ORIGINS, SPECK, Kinds
from viscount.motion.detections import CORNER_SHARE, Detections
from viscount.motion.geometry import Geometry
from viscount.motion.matching import FORBIDDEN, assigned, centres_of, match_costs, turned
from viscount.motion.opening import opened
from viscount.motion.prediction import Prediction, predict
from viscount.motion.sight import Sight
from viscount.motion.speed import SpeedModel
from viscount.motion.stopping import STANDS, STAY, became_another, met, met_again, stop_costs
from viscount.motion.surprise import Surprise
from viscount.motion.track import STILL_PX, Axis, Track

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SIDEWAYS = 0.12
"""Typical drift across the fall, as a share of the speed along it."""
FIRST_SHAPE_PX = 0.03
"""Scatter of a centre beyond the detector's own sigma, before the pour has taught it."""
SIDE_NOISE_PX2 = 0.25
"""Least variance of a tumbling part's centre across the fall."""
SAME_AREA = 0.1
"""As a logarithm, to which a part at rest keeps its area."""
LIES_PX2 = 1.0
"""Variance of the place of what lies in a region with others: its end is on whole pixels."""
MAX_MISSED = 4
"""Frames for which a part may go unseen in plain view before its track ends."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Links:
    """Which of a frame's m blobs continue which of n tracks, and what that rests on.

    Attributes
    ----------
    now, ahead : the blobs, and where the tracks ought to be.
    speeds : (m,) what parts have at the blobs' places, and its sigma.
    noise_y, noise_x : (m,) variances of the blobs' centres, px².
    turned_y, turned_x : (n, m) what the tracks' parts add to that by turning; see `turned`.
    centres : (n, m) see `centres_of`.
    stopping : (n, m) what it costs that a track's part has stopped there; see `stop_costs`.
    origins, ends : (m,) and (n,) where the blobs would come from, and the tracks' parts have gone.
    pairs : (track, blob) that belong together.
    lost : the tracks without a blob.
    alone, joined : (m,) see `sharing`.
    """

    now: Detections
    ahead: Prediction
    speeds: tuple[Floats, Floats]
    noise_y: Floats
    noise_x: Floats
    turned_y: Floats
    turned_x: Floats
    centres: Floats
    stopping: Floats
    origins: Kinds
    ends: Kinds
    pairs: list[tuple[int, int]]
    lost: list[int]
    alone: Flags
    joined: Flags


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
        tracks = opened(tracks, now, model, self._geometry)
        links = self._links(tracks, now)
        ended = self._lose(tracks, links)
        self._carry_on(tracks, links)
        self._active = [track for track in tracks if not track.ended] + self._begun(links)
        self._last = now
        return ended

    def finish(self) -> list[Track]:
        """End every track; the clip or the pour is over."""
        ended, self._active = self._active, []
        for track in ended:
            track.ended = track.ended or "last frame"
        return ended

    def _links(self, tracks: list[Track], now: Detections) -> _Links:
        """Explain the frame as cheaply as can be, and take note of how little it was foreseen."""
        model, geometry, last = self.model, self._geometry, self._last
        ahead = predict(tracks, now, geometry)
        speeds = model.speeds_at(now.time_s, now.y)
        noise_y, noise_x = self._noise_y(now, speeds[0]), now.var_x + self._side_noise()
        centres = centres_of(now, ahead.behind)
        births, origins = borders.births(geometry, model, ahead, now, speeds, last)
        deaths, ends = borders.deaths(geometry, model, ahead)
        never = became_another(tracks, ahead, now)
        turned_y, turned_x = turned(ahead, now, model)
        known = centres, noise_y + turned_y, noise_x + turned_x, never
        matches, deviations = match_costs(ahead, now, *known, learned=model.learned)
        unmatched, closed = matches >= FORBIDDEN, births >= BESIDE
        stopping = stop_costs(tracks, ahead, now, last, model.area_px, unmatched, closed)
        pairs = assigned(np.minimum(matches, stopping), births, deaths)
        linked = {i for i, _ in pairs}
        lost = [i for i in range(len(tracks)) if i not in linked]
        links = _Links(
            now=now,
            ahead=ahead,
            speeds=speeds,
            noise_y=noise_y,
            noise_x=noise_x,
            turned_y=turned_y,
            turned_x=turned_x,
            centres=centres,
            stopping=stopping,
            origins=origins,
            ends=ends,
            pairs=pairs,
            lost=lost,
            alone=sharing.alone(tracks, ahead, lost, now),
            joined=sharing.joined(tracks, ahead, lost, now),
        )
        if self._surprised:
            self._be_surprised(tracks, links, deviations, births, deaths)
        return links

    def _be_surprised(
        self,
        tracks: list[Track],
        links: _Links,
        deviations: Floats,
        births: Floats,
        deaths: Floats,
    ) -> None:
        """Add up how little the links of a frame were foreseen, by what each would cost."""
        ahead = links.ahead
        # A part that stays away surprises once, and one that shares a region may be anywhere.
        fresh = np.array([not (track.missed or track.covered) for track in tracks], dtype=bool)
        gone = fresh & ~(ahead.covering & links.joined).any(axis=1)
        deviations = np.where(links.stopping < np.inf, links.stopping, deviations)
        births, deaths = (births - ENTRY) * ~links.joined, (deaths - EXIT) * gone
        off = deviations * links.alone, births, deaths
        self.surprise.add(*off, links.pairs, tracks, ahead, links.now)

    def _noise_y(self, now: Detections, speed: Floats) -> Floats:
        """Return (m,) the variances of the centres of parts that move at `speed` (m,)."""
        shape = self.model.sigma_shape_px or FIRST_SHAPE_PX
        moved = self._geometry.sigma_frame_s * speed
        return np.asarray(now.var_y + shape**2 + moved**2)

    def _side_noise(self) -> float:
        """Return the variance of centres across the fall beyond what the detector foresees."""
        return max(SIDE_NOISE_PX2, self.model.sigma_side_px**2)

    def _carry_on(self, tracks: list[Track], links: _Links) -> None:
        """Take the linked blobs into their tracks."""
        if not links.pairs:
            return
        now, (of, to) = links.now, np.array(links.pairs).T
        stopping, centres = links.stopping[of, to].tolist(), links.centres[of, to].tolist()
        noise_y = (links.noise_y[to] + links.turned_y[of, to]).tolist()
        noise_x = (links.noise_x[to] + links.turned_x[of, to]).tolist()
        known = zip(links.pairs, stopping, centres, noise_y, noise_x, strict=True)
        apart = links.alone.tolist()
        for (i, j), stop, centre, var_y, var_x in known:
            track, alone = tracks[i], apart[j]
            if not alone:
                # In a shared blob the centre says little: either part may be anywhere in it.
                var_y += (0.3 * now.length.item(j)) ** 2
                var_x += (0.3 * now.breadth.item(j)) ** 2
            if stop == STAY:
                track.stay()
                continue
            sight = _sight(now, j, centre, var_y, alone=alone)
            if stop < np.inf:
                track.halt(sight, self.model.acceleration)
            else:
                track.take(sight, var_x)

    def _lose(self, tracks: list[Track], links: _Links) -> list[Track]:
        """Take note of the tracks that are without a blob; return those that ended."""
        moving = np.zeros(len(links.now), dtype=bool)
        if any(tracks[i].met for i in links.lost):
            moves = [j for i, j in links.pairs if len(tracks[i].sights) > 1 and not tracks[i].rests]
            moving[moves] = True
        return [tracks[i] for i in links.lost if self._lost(i, tracks[i], links, moving)]

    def _lost(self, i: int, track: Track, links: _Links, moving: Flags) -> bool:
        """Note that the track has no blob in this frame; return whether it has ended.

        `moving` (m,) tells of each blob whether it continues a track that moves.
        """
        now, end = links.now, ENDS[links.ends[i]]
        if end == "hidden":
            track.covered += 1
        else:
            track.missed += 1
        leaves = end in ("exit", "side")
        if track.met is not None:
            track.met = met_again(track.met, moving, now)
        elif not leaves:
            track.met = met(i, track, links.ahead, now, self.model.area_px)
        if track.met is not None and track.met.times >= STANDS:
            lies, j = track.met.tail + track.behind, track.met.blob
            sight = _sight(now, j, lies, links.noise_y.item(j) + LIES_PX2, alone=False)
            track.halt(sight, self.model.acceleration)
            track.ended = "rest"
            return True
        if track.met is not None and track.met.times > 1:
            return False
        if leaves or track.missed > self._most_missed(track) or track.covered > 60:
            # What is slow seems to rest in every frame; only what was seen to stop does.
            rests = track.halted_s is not None and track.rests
            track.ended = "rest" if rests and end == "midway" else end
        return bool(track.ended)

    def _most_missed(self, track: Track) -> int:
        """Return for how many frames the track may be without a blob in plain view.

        Of a part whose corner showed at a border the next frames show more; else it was a speck.
        """
        speck = self.model.learned and track.area < SPECK * self.model.area_px
        return 1 if speck and not any(sight.whole for sight in track.sights) else MAX_MISSED

    def _begun(self, links: _Links) -> list[Track]:
        """Return the tracks that blobs begin which continue none.

        Parts that are in view already begin no track; who they are is known once they fall alike.
        """
        known = _corners(links.now, self.model) | (links.joined & self.model.learned)
        known[[j for _, j in links.pairs]] = True
        return [self._start(links, j) for j in np.flatnonzero(~known).tolist()]

    def _start(self, links: _Links, j: int) -> Track:
        """Begin a track at the blob `j`, at the speed that parts have there."""
        model, now, origin = self.model, links.now, ORIGINS[links.origins[j]]
        speed, sigma = (values.item(j) for values in links.speeds)
        var_y, var_x = links.noise_y.item(j), links.noise_x.item(j)
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
                var_place=var_x,
                cov=0.0,
                var_speed=((SIDEWAYS + 0.5 * strays) * speed) ** 2,
                acceleration=0.0,
                var_acceleration=(0.1 * model.acceleration) ** 2 + model.sigma_acceleration**2,
            ),
            t_s=now.time_s.item(j),
            born=origin,
            born_after_s=-np.inf if self._last is None else self._last.t_s,
        )
        track.show(_sight(now, j, now.y.item(j), var_y, alone=links.alone.item(j)))
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


def _sight(now: Detections, j: int, y: float, var_y: float, *, alone: bool) -> Sight:
    t_s, x, var_x, length, behind, area, whole, aside, *shape = now.rows[j]
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
        *shape,
    )
