"""Following a whole pour under each model that the votes leave open; the least surprised wins.

Surprise is what a model did not foresee: parts off their path, appearing or vanishing in plain
view, or seen once only. A wrong speed cannot explain the front and the tail of a pour.
"""

import math
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from viscount.motion import learning
from viscount.motion.accelerations import agrees
from viscount.motion.detections import Detections
from viscount.motion.geometry import Geometry
from viscount.motion.linking import Linker
from viscount.motion.resting import still
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.steadying import MOST_LEFT_PX, without_shake
from viscount.motion.surprise import like_a_part
from viscount.motion.track import Track

AMBIGUOUS = 15.0
"""Two speeds that differ by less surprise than about one impossible event are alike."""
DECIDED = 25.0
"""Two that differ by more than this, about two impossible events, leave no doubt."""
ALIKE = 0.8
"""Two explanations that share this much of their links are one."""
LONE = 3.0
"""The surprise of a sighting that belongs to no other: too fast a speed explains all by such."""
PART = 1.0
"""What a part more costs: too fast a speed makes a new part of every second sighting."""
LEAST_SCATTER_PX = 0.25
"""Scatter of parts about their paths from which on a pour is followed once more, foreseeing it."""
UNLEARNED = 30.0
"""A model that expects nothing is surprised by nothing; it stands back by so much."""
LEAST_TRIED, FORESEEN = 5, 0.05
"""So many models are tried at least, and more until one is surprised by no more than so much a
blob."""
UNSURPRISING, UNSURPRISING_SHARE = 12.0, 0.15
"""Surprise of a whole pour, and for each of its blobs, up to which what an outlet file says is
believed: what surprises more would be doubted."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Followed:
    """A pour followed under one model, from its first frame to its last.

    `frames` are those that it was followed through: steadied where the camera shakes.
    """

    frames: list[Detections]
    model: SpeedModel
    tracks: list[Track]
    surprise: float
    standing: float
    """How much of the surprise is about what stands still."""
    lasting: float
    """What is left of the rest where no single frame counts for much."""
    parts: float
    """How many parts it takes."""

    @property
    def cost(self) -> float:
        """What the explanation costs: surprise, and a little for every part that it takes."""
        return self.surprise + PART * self.parts

    @cached_property
    def links(self) -> frozenset[tuple[int, int, int, int]]:
        """Which sighting of a part follows which, as (frame, blob, next frame, next blob)."""
        return frozenset(
            (a.frame, a.blob, b.frame, b.blob)
            for track in self.tracks
            if like_a_part(track.area, self.model) > 0.5
            for a, b in pairwise(s for s in track.sights if s.whole)
        )

    def surprise_beside(self, other: "Followed") -> float:
        """Return the surprise that counts beside another explanation of the same sightings.

        Tighter is better only of what both foresee: one that leaves most sightings without a path
        of their own foresees the few others however tightly it likes.
        """
        sightings, speeds = zip(self._freedom, other._freedom, strict=True)
        wider, looser = self._looseness(other.model)
        return self.surprise + wider * min(sightings) + looser * min(speeds)

    def looser_than(self, model: SpeedModel) -> float:
        """Return what counts at most against it beside a model under which parts may scatter less.

        Less surprises where more is allowed: by the logarithm of that for each sighting, and for
        the speed of each part, as in any likelihood of normal deviations.
        """
        sightings, speeds = self._freedom
        wider, looser = self._looseness(model)
        return wider * sightings + looser * speeds

    def _looseness(self, model: SpeedModel) -> tuple[float, float]:
        """Return by how much more it allows sightings and speeds to scatter, as logarithms."""
        wider = math.log(_scatter_px(self.model) / _scatter_px(model))
        looser = math.log(self.model.spread / model.spread)
        return max(wider, 0.0), max(looser, 0.0)

    @cached_property
    def _freedom(self) -> tuple[float, float]:
        """How many sightings are beyond what each path takes up, and how many speeds there are."""
        moving = [track for track in self.tracks if len(track.whole) >= 2]
        parts = like_a_part([track.area for track in moving], self.model)
        beyond = np.array([len(track.whole) - 2.0 for track in moving])
        return float(parts @ beyond), float(parts.sum())

    def unlike(self, other: "Followed") -> bool:
        """Whether the two call other sightings the same part."""
        fewer = min(len(self.links), len(other.links))
        return len(self.links & other.links) < ALIKE * fewer


def _scatter_px(model: SpeedModel) -> float:
    """Return how far parts may scatter about their paths, the detector's own noise included."""
    return math.hypot(model.sigma_shape_px, LEAST_SCATTER_PX)


def follow(
    frames: list[Detections],
    geometry: Geometry,
    model: SpeedModel,
    beside: Followed | None = None,
) -> Followed:
    """Follow a pour under one model; again where parts stray more than the model expects.

    That no further than to where it can be neither better than the one that it is held `beside`
    nor a rival of it. Parts that stray too far are lost at first, and show only once that is
    foreseen whether the whole picture strays.
    """
    found = _followed(frames, geometry, model, math.inf)
    if not (model.learned or model.stated):
        return found
    best = _again(found, frames, geometry, beside)
    if best.surprise > max(AMBIGUOUS, FORESEEN * _blobs(frames)):
        # A shake may have broken all paths; it can be told from parts that may stray.
        loose = replace(model, sigma_shape_px=MOST_LEFT_PX, sigma_side_px=MOST_LEFT_PX)
        kept = _followed(frames, geometry, loose, math.inf)
        best = min(best, _again(kept, frames, geometry, beside), key=_by_cost)
    return best


def _again(
    found: Followed, frames: list[Detections], geometry: Geometry, beside: Followed | None
) -> Followed:
    """Follow once more, where the camera shakes or parts stray, foreseeing it."""
    kept = learning.good(found.tracks, found.model)
    steady, foreseen = without_shake(frames, kept, found.model)
    scatter = max(foreseen.sigma_shape_px, foreseen.sigma_side_px)
    if steady is frames and scatter < LEAST_SCATTER_PX:
        return found
    found = _followed(steady, geometry, foreseen, _most(beside, foreseen))
    if steady is not frames:
        return found
    steady, foreseen = without_shake(frames, learning.good(found.tracks, foreseen), foreseen)
    if steady is frames:
        return found
    return _followed(steady, geometry, foreseen, _most(beside, foreseen))


def _most(beside: Followed | None, model: SpeedModel) -> float:
    """Return the surprise above which a model can be neither the best nor a rival of it."""
    if beside is None:
        return math.inf
    return beside.cost + AMBIGUOUS + beside.looser_than(model)


def _followed(
    frames: list[Detections], geometry: Geometry, model: SpeedModel, most: float
) -> Followed:
    linker = Linker(geometry, model)
    tracks: list[Track] = []
    for frame in frames:
        tracks += linker.link(frame)
        if linker.surprise.sum > most:
            break
    tracks += linker.finish()
    # What sticks out of the view sideways is no part of the pour: a hand, or its shadow.
    taken = [t for t in tracks if len(t.sights) > 1 or not t.sights[0].aside]
    alone = [t for t in taken if len(t.sights) == 1]
    lone = float(sum(like_a_part(t.area, model) for t in alone))
    # Of those that surprise; specks that lie about outweigh nothing.
    resting = min(still([t.sights[0] for t in alone if like_a_part(t.area, model) > 0.5]), lone)
    return Followed(
        frames=frames,
        model=model,
        tracks=tracks,
        surprise=linker.surprise.sum + LONE * lone + (0.0 if model.learned else UNLEARNED),
        parts=float(sum(like_a_part(t.area, model) for t in taken)),
        standing=linker.surprise.standing + LONE * resting,
        lasting=linker.surprise.lasting + LONE * (lone - resting),
    )


def relinked(best: Followed, geometry: Geometry, model: SpeedModel) -> list[Track]:
    """Link a pour again under what it taught; as loosely as before where that surprises less.

    A blow may shift a few frames, of which the others say nothing.
    """
    as_before = replace(
        model,
        sigma_shape_px=best.model.sigma_shape_px,
        sigma_side_px=best.model.sigma_side_px,
    )
    tight = _followed(best.frames, geometry, model, math.inf)
    loose = _followed(best.frames, geometry, as_before, math.inf)
    if tight.cost <= loose.cost:
        return tight.tracks
    # Looseness is for links alone; of where the parts are their sightings are as sure as ever.
    less = as_before.sigma_shape_px**2 - model.sigma_shape_px**2
    for track in loose.tracks:
        track.sights = [replace(sight, var_y=sight.var_y - less) for sight in track.sights]
    return loose.tracks


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Explained:
    """A pour explained.

    Attributes
    ----------
    best : the least surprised explanation for its number of parts.
    rival : another one that cannot be told from it, or None.
    decided : nothing speaks against the best, and much against each other that was tried.
    """

    best: Followed
    rival: Followed | None
    decided: bool


def explain(frames: list[Detections], geometry: Geometry, prior: MotionPrior) -> Explained:
    """Explain a pour by the speed that foresees it best."""
    tried = _tried(frames, geometry, prior)
    doubted = not prior.sure or prior.speed_px_s is not None
    if doubted and not _believable(tried[0], frames):
        # What the outlet file says may be wrong; then the clip itself decides.
        known = prior.acceleration_px_s2 if prior.sure else None
        free = replace(prior, acceleration_px_s2=known, speed_px_s=None, least_speed_px_s=None)
        tried = sorted(tried + _tried(frames, geometry, free), key=_by_cost)
    return _held_together(tried)


def _held_together(tried: list[Followed]) -> Explained:
    """Hold the best explanation, which is the first, against the others."""
    best = tried[0]
    # What links the same sightings under a tighter model speaks for the best as well.
    same = [one for one in tried if not one.unlike(best)]
    others = [
        (max(one.surprise_beside(ours) - ours.surprise_beside(one) for ours in same), one)
        for one in tried
        if one.unlike(best)
    ]
    return Explained(
        best=best,
        rival=next((one for behind, one in others if behind < AMBIGUOUS), None),
        decided=best.surprise < UNSURPRISING
        and _well_seen(best)
        and all(behind >= DECIDED for behind, _ in others),
    )


def _well_seen(one: Followed) -> bool:
    """Whether each part was seen whole twice, and some more often, so that their speed is told."""
    whole = [len(t.whole) for t in one.tracks if like_a_part(t.area, one.model) > 0.5]
    return one.model.learned and min(whole, default=0) >= 2 and max(whole, default=0) > 2


def _tried(frames: list[Detections], geometry: Geometry, prior: MotionPrior) -> list[Followed]:
    """Follow the pour under each model, the likeliest first, until one foresees it."""
    found: list[Followed] = []
    blobs = sum(len(frame) for frame in frames)
    for model in learning.first_models(frames, geometry, prior):
        best = min(found, key=_by_cost, default=None)
        found.append(follow(frames, geometry, model, best))
        foreseen = min(one.surprise for one in found) < max(AMBIGUOUS, FORESEEN * blobs)
        if len(found) >= LEAST_TRIED and foreseen:
            break
    return sorted(found, key=_by_cost)


def _believable(one: Followed, frames: list[Detections]) -> bool:
    foreseen = one.surprise < max(UNSURPRISING, UNSURPRISING_SHARE * _blobs(frames))
    return one.model.learned and foreseen and agrees(one.tracks, one.model)


def _blobs(frames: list[Detections]) -> int:
    return sum(len(frame) for frame in frames)


def _by_cost(one: Followed) -> float:
    return one.cost
