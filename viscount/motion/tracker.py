"""The tracker: a push machine from sightings to passages.

One machine with two lags. With a lag of some time (live) passages become final that long, and up
to `HELD_SHARE` of it more, after their track has ended; with none (a recorded clip) the pour
itself is the lag: when it has ended, it is followed once to learn how its parts move, and once
more with what it taught.
A pour ends when nothing has moved for `quiet_ns`, or after `LONGEST_POUR_NS`, so that memory
is bounded by one pour. A final passage never changes.
"""

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from viscount.codes import Code
from viscount.motion import judging, learning, pieces, uncounted
from viscount.motion.crossing import Crossed, crossed
from viscount.motion.detections import Detections, detections
from viscount.motion.findings import STRETCH, findings
from viscount.motion.following import LEAST_SCATTER_PX, UNLEARNED, explain, relinked
from viscount.motion.geometry import Geometry
from viscount.motion.linking import Linker
from viscount.motion.live import Live
from viscount.motion.parts import Usual, cluttered, is_part, sizes, usual
from viscount.motion.resting import Resting
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.track import Track
from viscount.values import Level, Notice, Passage, Sighting

Shown = Callable[[Track, Sequence[Passage]], None]
"""Hears of each counted track, with its passages before they are numbered."""

LONGEST_POUR_NS = 120_000_000_000
LATEST_LOOKED = 100
"""Live: so many parts, the latest, say what parts look like."""
LATELY = 8
"""Live: so many counted parts, the latest, may be the same as what is judged next, or pieces."""
MOST_UNSAID = 4 * STRETCH
"""Live: so many tracks, parts or not, are looked through at a time: dust may never pause."""
JITTER_SHARE = 0.1
"""Live: by this share of the lag a frame may be late, so that each that comes brings out one."""
LEADING_FRAMES = 2
"""Empty frames kept before a pour: they show that its first part was not there before."""


@dataclass(slots=True)
class Judged:
    """Tracks that were judged: all that ended, those that are parts, and those that count; and
    what parts looked like at the last of them."""

    ended: list[Track] = field(default_factory=list)
    parts: list[Track] = field(default_factory=list)
    counted: list[Track] = field(default_factory=list)
    look: Usual | None = None

    def add(
        self, ended: list[Track], parts: list[Track], counted: list[Track], look: Usual
    ) -> None:
        """Take in some more."""
        self.look = look
        self.ended += ended
        self.parts += parts
        self.counted += counted


class Tracker:
    """Turns sightings into passages. Feed it in order, then finish it.

    Parameters
    ----------
    geometry : line, view and readout.
    prior : what is known of the motion beforehand.
    lag_ns : None for a recorded clip, else how long after the fact passages become final, or up
        to `HELD_SHARE` of it later: tracks that have ended are judged a few at a time.
    quiet_ns : a pour ends after this long without a moving part.
    shown : is shown each track that was counted, once it has ended.
    """

    def __init__(
        self,
        geometry: Geometry,
        prior: MotionPrior,
        *,
        lag_ns: int | None = None,
        quiet_ns: int = 1_000_000_000,
        shown: Shown | None = None,
    ) -> None:
        self._geometry = geometry
        self._prior = prior
        self._shown = shown
        self._lag_s = None if lag_ns is None else lag_ns * 1e-9
        self._quiet_s = quiet_ns * 1e-9
        self._origin_ns: int | None = None
        self._resting = Resting()
        self._frames: deque[Detections] = deque()
        self._busy_s: float | None = None
        self._linker: Linker | None = None
        self._notices: list[Notice] = []
        self._next_id = 1
        self._sizes = sizes([])
        self._live = Live(geometry, prior, self._lag_s or 0.0)
        self._looked: list[Crossed] = []
        self._lately: list[Crossed] = []
        self._unsaid = Judged()
        self._unlooked: deque[Iterator[Notice]] = deque()
        self._surprise: float | None = None
        self._decided = False
        self._opens = True
        self.model: SpeedModel | None = None
        """What the last pour taught, or None before the first."""

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What there is to say so far."""
        return tuple(self._notices)

    def feed(self, sighting: Sighting) -> list[Passage]:
        """Take in one sighting; return the passages that became final."""
        if self._origin_ns is None:
            self._origin_ns = sighting.t_ns
        frame = detections(sighting, self._geometry, self._origin_ns)
        at_rest = self._resting.mark(frame)
        if at_rest.any():
            self._say_once(Level.INFO, Code.PART_AT_REST, Code.PART_AT_REST.meaning)
            frame = frame.without(at_rest)
        if self._lag_s is not None:
            return self._feed_live(frame)
        return self._feed_recorded(frame)

    def finish(self) -> list[Passage]:
        """End of the run: return the remaining passages."""
        if self._lag_s is None:
            return self._solve(last=True) if self._busy_s is not None else []
        found = [passage for frame in self._frames for passage in self._advance(frame)]
        self._frames.clear()
        return found + self._judged_live(self._live.finish())

    def _feed_recorded(self, frame: Detections) -> list[Passage]:
        self._frames.append(frame)
        if len(frame):
            self._busy_s = frame.t_s
        if self._busy_s is None:
            while len(self._frames) > LEADING_FRAMES:
                self._frames.popleft()
            return []
        if frame.t_s - self._busy_s >= self._quiet_s:
            return self._solve(last=True)
        if frame.t_s - self._frames[0].t_s >= LONGEST_POUR_NS * 1e-9:
            return self._solve(last=False)
        return []

    def _solve(self, *, last: bool) -> list[Passage]:
        """Follow the buffered pour twice; the second time with what the first one taught."""
        frames = list(self._frames)
        explained = explain(frames, self._geometry, self._prior)
        best = explained.best
        if explained.rival is not None:
            self._say_rival(best.model, explained.rival.model)
        model = learning.refined_model(best.tracks, best.model, self._prior)
        whole = last and self._linker is None
        if whole and model.sigma_shape_px < LEAST_SCATTER_PX <= best.model.sigma_shape_px:
            ended = relinked(best, self._geometry, model)
        else:
            ended = self._linked(best.frames, model, last=last)
        # By the first, loose following: a wrong speed shows there, a part's own whims do not.
        self._surprise = best.lasting + (0.0 if best.model.learned else UNLEARNED)
        self._decided = explained.decided
        self.model = model
        self._frames.clear()
        self._busy_s = None if last else frames[-1].t_s
        if last:
            self._frames.extend(frames[-LEADING_FRAMES:])
        found = self._numbered(self._judge(self._look(ended)))
        self._note(closes=last)
        self._say_all()
        return found

    def _linked(self, frames: list[Detections], model: SpeedModel, *, last: bool) -> list[Track]:
        """Link a stretch of the run; return the tracks that ended in it."""
        linker = self._linker or Linker(self._geometry, model, surprised=False)
        linker.model = model
        ended = [track for frame in frames for track in linker.link(frame)]
        if last:
            ended += linker.finish()
        self._linker = None if last else linker
        return ended

    def _feed_live(self, frame: Detections) -> list[Passage]:
        assert self._lag_s is not None
        # Times that jitter bring now no frame over the lag, now two: each in turn has its own.
        self._frames.append(frame)
        due_s = frame.t_s - self._lag_s
        found: list[Passage] = []
        while self._frames and self._frames[0].t_s <= due_s:
            found += self._advance(self._frames.popleft())
            due_s = frame.t_s - (1.0 + JITTER_SHARE) * self._lag_s
        return found

    def _advance(self, frame: Detections) -> list[Passage]:
        return self._judged_live(self._live.advance(frame, self._frames))

    def _judged_live(self, ended: list[Track]) -> list[Passage]:
        """Judge what has been looked at, and look at what has ended: each in a frame of its own."""
        self.model = self._live.model
        found = self._judge(self._looked)
        self._looked = self._look(ended)
        if self._live.overdue:
            found += self._judge(self._looked)
            self._looked = []
        if self._live.idle:
            self._say_next()
        many = len(self._unsaid.parts) >= STRETCH or len(self._unsaid.ended) >= MOST_UNSAID
        if many or self._live.pauses:
            self._note(closes=self._live.pauses)
        if self._live.pauses:
            self._say_all()
        return self._numbered(found)

    def _look(self, ended: list[Track]) -> list[Crossed]:
        """Find where tracks that have ended crossed the line, and how large their parts are."""
        if not ended:
            return []
        assert self.model is not None
        found = crossed(ended, self.model, self._geometry.common)
        # Live, the parts before these say what parts look like, too.
        if self._lag_s is None:
            self._sizes = sizes(found)
        else:
            self._sizes = np.concatenate([self._sizes, sizes(found)])[-LATEST_LOOKED:]
        return found

    def _judge(self, looked: list[Crossed]) -> list[Passage]:
        """Return the passages of tracks that have ended, not numbered."""
        if not looked:
            return []
        assert self.model is not None
        assert self._origin_ns is not None
        ended = [one.track for one in looked]
        view = self._geometry.bottom - self._geometry.top
        look = usual(self._sizes, self.model, view, self._prior)
        look = replace(look, cluttered=cluttered(ended, look))
        paths = {id(one.track): one for one in looked}
        moving = [t for t in ended if is_part(t, look)]
        parts = [paths[id(track)] for track in self._whole_parts(moving)]
        whole = judging.without_echoes(judging.without_twins(parts, look, self._lately), look)
        self._unsaid.add(ended, moving, [one.track for one in whole], look)
        passed: list[Passage] = []
        for one in whole:
            own = judging.passages(one, look, self._origin_ns)
            if self._shown is not None:
                self._shown(one.track, own)
            passed += own
        # Of the pieces of one part one is counted; others that are not follow another's part.
        taken = {id(track) for track in moving} - {id(one.track) for one in parts}
        taken |= {id(one.track) for one in whole}
        others = [paths[id(track)] for track in ended if id(track) not in taken]
        known = [*self._lately, *whole]
        if self._lag_s is not None:
            self._lately = known[-LATELY:]
        return passed + uncounted.possible(others, known, self._live.active, look, self._origin_ns)

    def _whole_parts(self, parts: list[Track]) -> list[Track]:
        """Make one of the pieces of one part; doubt the count where nothing tells."""
        together = [*(one.track for one in self._lately), *parts]
        pairs = pieces.rigid_pairs(together)
        if not pairs:
            return parts
        length = self._prior.part_length_px or pieces.single_length(together, pairs)
        if length is not None:
            return pieces.joined(parts, pairs, length)
        text = (
            f"{len(pairs)} pairs of regions move as one body: {len(pairs)} parts seen in pieces, "
            f"or {2 * len(pairs)} parts that travel close"
        )
        self._say_once(Level.DOUBT, Code.PIECES_OR_PAIRS, text)
        return parts

    def _note(self, *, closes: bool) -> None:
        """Begin to look through all that was judged since this was done last; `closes` its pour."""
        self._say_all()
        told, self._unsaid = self._unsaid, Judged()
        opens, self._opens = self._opens, closes
        if told.look is None:
            return
        low, high = self._geometry.sides
        known = told.look, self._prior, self._surprise, high - low
        self._unlooked += findings(
            told.ended,
            told.parts,
            told.counted,
            *known,
            decided=self._decided,
            opens=opens,
            closes=closes,
        )

    def _say_next(self) -> None:
        """Say what there is of the next kind: to look into all at once takes as long as a frame."""
        if self._unlooked:
            for notice in self._unlooked.popleft():
                self._say_once(notice.level, notice.code, notice.text)

    def _say_all(self) -> None:
        while self._unlooked:
            self._say_next()

    def _numbered(self, found: list[Passage]) -> list[Passage]:
        found = sorted(found, key=lambda p: (p.t_ns, p.across_px))
        numbered = [replace(p, id=self._next_id + k) for k, p in enumerate(found)]
        self._next_id += len(found)
        return numbered

    def _say_rival(self, model: SpeedModel, rival: SpeedModel) -> None:
        ours, other = model.usual_speed, rival.usual_speed
        text = f"{ours:.0f} and {other:.0f} px/s at the line explain the stream equally well"
        self._say_once(Level.DOUBT, Code.SPEED_AMBIGUOUS, text)

    def _say_once(self, level: Level, code: Code, text: str) -> None:
        if all((notice.code, notice.level) != (code, level) for notice in self._notices):
            self._notices.append(Notice(level=level, code=code, text=text))
