"""One clip of single parts, followed and counted; what it shows of each part."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from viscount import fall
from viscount.agreement.result import Result, result
from viscount.codes import Code
from viscount.covered import Box
from viscount.motion import pieces
from viscount.motion.geometry import Geometry
from viscount.motion.looks import Growth, growth_of
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.track import Track
from viscount.pipeline import Pipeline
from viscount.seams import Detector
from viscount.teaching.singles import Seen, seen_of
from viscount.values import Blob, Direction, Frame, Notice, Passage, Sighting

NO_GROWTH = Growth(s=0.0, sigma_s=0.0, exposure_s=0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lesson:
    """What one clip shows.

    Attributes
    ----------
    name : of the clip, as it was given.
    result : what a count of it comes to.
    passages : all of them, in order of time; `first_ns` is the first frame's time.
    seen : the parts that were seen whole, in order of time.
    pairs : lengths in px of what may be one part in two pieces, or two parts close together.
    growth : what the exposure adds.
    acceleration_px_s2 : along the fall, as it was learned.
    """

    name: str
    first_ns: int
    result: Result
    passages: tuple[Passage, ...]
    seen: tuple[Seen, ...]
    pairs: tuple[float, ...]
    growth: Growth
    acceleration_px_s2: float
    geometry: Geometry

    @property
    def in_pieces(self) -> bool:
        """Whether it is open if regions are pieces of one part, or parts."""
        return any(reason.code is Code.PIECES_OR_PAIRS for reason in self.result.reasons)

    def speed_at(self, passage: Passage, along_px: float) -> float:
        """Return the speed of a part in px/s at `along_px` from the line."""
        return float(fall.speed_at(passage.speed_px_s, self.acceleration_px_s2, along_px))


class Followed:
    """Follows the parts of one clip, frame by frame, and remembers what it saw of them.

    Parameters
    ----------
    detector, geometry, prior : as for `Pipeline`.
    piece_length_px : length of a part, where one is seen in pieces; None where that is not so.
    lamp : see `Pipeline`.
    """

    def __init__(
        self,
        detector: Detector,
        geometry: Geometry,
        prior: MotionPrior,
        *,
        piece_length_px: float | None = None,
        lamp: Box | None = None,
    ) -> None:
        if piece_length_px is not None:
            prior = replace(prior, part_length_px=piece_length_px)
        self._detector = _Remembering(detector)
        self._geometry = geometry
        self._prior = prior
        self._piece_length_px = piece_length_px
        self._tracks: list[tuple[Track, Sequence[Passage]]] = []
        self._passages: list[Passage] = []
        self._pipeline = Pipeline(self._detector, geometry, prior, shown=self._take, lamp=lamp)

    def prime(self, frames: Sequence[Frame]) -> None:
        """See `Pipeline.prime`."""
        self._pipeline.prime(frames)

    def feed(self, frame: Frame) -> None:
        """Take in one frame."""
        self._passages += self._pipeline.feed(frame)

    def finish(
        self, name: str, first_ns: int, notices: Callable[[], Sequence[Notice]] = tuple
    ) -> Lesson:
        """Return what the clip shows. `notices` tells of its camera, once all is read."""
        self._passages += self._pipeline.finish()
        passages = sorted(self._passages, key=lambda p: (p.t_ns, p.id))
        model = self._pipeline.model
        found = result(passages, [*notices(), *self._pipeline.notices], first_ns)
        tracks = [track for track, _ in self._tracks]
        known = model is not None and model.learned
        return Lesson(
            name=name,
            first_ns=first_ns,
            result=found,
            passages=tuple(passages),
            seen=tuple(self._seen(model)) if model is not None and known else (),
            pairs=tuple(pair.length for pair in pieces.rigid_pairs(tracks)),
            growth=growth_of(tracks, model, self._prior) if model and known else NO_GROWTH,
            acceleration_px_s2=model.acceleration if model and known else 0.0,
            geometry=self._geometry,
        )

    def _take(self, track: Track, passages: Sequence[Passage]) -> None:
        self._tracks.append((track, passages))

    def _seen(self, model: SpeedModel) -> list[Seen]:
        found = []
        for track, passages in self._tracks:
            if len(passages) != 1 or passages[0].direction is not Direction.WITH:
                continue
            seen = seen_of(
                track,
                passages[0],
                self._detector.blobs,
                model,
                self._geometry.falls,
                self._geometry.line_time_along_s,
                piece_length_px=self._piece_length_px,
            )
            if seen is not None:
                found.append(seen)
        return sorted(found, key=lambda seen: seen.passage.t_ns)


class _Remembering:
    """Passes frames to a detector, and keeps the regions that it saw; no pictures."""

    def __init__(self, inner: Detector) -> None:
        self._inner = inner
        self.blobs: dict[int, tuple[Blob, ...]] = {}

    def prime(self, frames: Sequence[Frame]) -> None:
        self._inner.prime(frames)

    def see(self, frame: Frame, *, learn: bool = True) -> Sighting:
        sighting = self._inner.see(frame, learn=learn)
        if sighting.blobs:
            self.blobs[frame.index] = sighting.blobs
        return sighting
