"""Following a whole pour under each model that the votes leave open; the least surprised wins.

Surprise is what a model did not foresee: parts off their path, appearing or vanishing in plain
view, or seen once only. A wrong speed cannot explain the front and the tail of a pour.
"""

import math
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from viscount.motion import learning
from viscount.motion.detections import Detections
from viscount.motion.geometry import Geometry
from viscount.motion.linking import Linker
from viscount.motion.resting import still
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.steadying import without_shake
from viscount.motion.surprise import like_a_part
from viscount.motion.track import Track

AMBIGUOUS = 15.0
"""Two speeds that differ by less surprise than about one impossible event are alike."""
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
UNSURPRISING = 0.5
"""Surprise for each blob up to which an unsure acceleration is believed."""


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

    def unlike(self, other: "Followed") -> bool:
        """Whether the two call other sightings the same part."""
        fewer = min(len(self.links), len(other.links))
        return len(self.links & other.links) < ALIKE * fewer


def follow(
    frames: list[Detections], geometry: Geometry, model: SpeedModel, most: float = math.inf
) -> Followed:
    """Follow a pour under one model; again where parts stray more than the model expects.

    That no further than to where it surprises by more than `most`. Parts that stray too far are
    lost at first, and show only once that is foreseen whether the whole picture strays.
    """
    found = _followed(frames, geometry, model, math.inf)
    if not model.learned:
        return found
    steady, foreseen = without_shake(frames, learning.good(found.tracks, model), model)
    if max(foreseen.sigma_shape_px, foreseen.sigma_side_px) < LEAST_SCATTER_PX:
        return found
    found = _followed(steady, geometry, foreseen, most)
    if steady is not frames:
        return found
    steady, foreseen = without_shake(frames, learning.good(found.tracks, foreseen), foreseen)
    return found if steady is frames else _followed(steady, geometry, foreseen, most)


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
    alone = [t for t in tracks if len(t.sights) == 1]
    lone = float(sum(like_a_part(t.area, model) for t in alone))
    return Followed(
        frames=frames,
        model=model,
        tracks=tracks,
        surprise=linker.surprise.sum + LONE * lone + (0.0 if model.learned else UNLEARNED),
        parts=float(sum(like_a_part(t.area, model) for t in tracks)),
        standing=linker.surprise.standing + LONE * still([t.sights[0] for t in alone]),
    )


def explain(
    frames: list[Detections], geometry: Geometry, prior: MotionPrior
) -> tuple[Followed, Followed | None]:
    """Return the best explanation of a pour, and a rival that could not be told from it."""
    tried = _tried(frames, geometry, prior)
    doubted = not prior.sure or prior.speed_px_s is not None
    if doubted and not _believable(tried[0], frames):
        # What the outlet file says may be wrong; then the clip itself decides.
        known = prior.acceleration_px_s2 if prior.sure else None
        free = replace(prior, acceleration_px_s2=known, speed_px_s=None)
        tried = sorted(tried + _tried(frames, geometry, free), key=_by_cost)
    best = tried[0]
    close = [one for one in tried[1:] if one.surprise < best.surprise + AMBIGUOUS]
    return best, next((one for one in close if one.unlike(best)), None)


def _tried(frames: list[Detections], geometry: Geometry, prior: MotionPrior) -> list[Followed]:
    """Follow the pour under each model, the likeliest first, until one foresees it."""
    found: list[Followed] = []
    blobs = sum(len(frame) for frame in frames)
    for model in learning.first_models(frames, geometry, prior):
        # What surprises more than that can be neither the best nor a rival of it.
        most = min((one.cost for one in found), default=math.inf) + AMBIGUOUS
        found.append(follow(frames, geometry, model, most))
        foreseen = min(one.surprise for one in found) < max(AMBIGUOUS, FORESEEN * blobs)
        if len(found) >= LEAST_TRIED and foreseen:
            break
    return sorted(found, key=_by_cost)


def _believable(one: Followed, frames: list[Detections]) -> bool:
    blobs = max(sum(len(frame) for frame in frames), 1)
    foreseen = one.model.learned and one.surprise < UNSURPRISING * blobs
    return foreseen and learning.agrees(one.tracks, one.model)


def _by_cost(one: Followed) -> float:
    return one.cost
