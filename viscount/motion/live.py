"""Following parts as they come, a short lag behind.

While a pour begins nobody knows yet how its parts move. So its first frames are kept, and followed
anew each time more is known, until enough parts have shown it; from then on each frame is followed
once, and what has been followed stays.

To judge one track costs hardly less than to judge several. So tracks that have ended are held, for
a part of the lag at most, and handed out together: ahead of two frames in which nothing is learned,
for these are judged in two steps. At the end of a pour that is done at once.
"""

from collections import deque
from collections.abc import Iterable, Sequence

from viscount.motion import learning
from viscount.motion.detections import Detections
from viscount.motion.geometry import Geometry
from viscount.motion.linking import Linker
from viscount.motion.running import RunningModel
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.track import Track

PAUSE_S = 0.2
"""After so long without anything in view another pour begins."""
OPENING_S = 0.3
"""The opening of a pour is kept no longer than this."""
TRIED_EVERY = 4
"""Frames from one following of the opening to the next."""
LEADING_FRAMES = 2
"""Empty frames kept ahead of a pour: they show that its first part was not there before."""
HELD_SHARE = 0.35
"""Tracks that have ended are held, and judged, for this share of the lag at most: four frames of a
camera of 120 per second."""
WINDOW_S = 1.0
"""How much of the past is at hand where speeds must be learned from the blobs alone."""


class Live:
    """Follows a live run. Feed it frames in order, then finish it.

    Parameters
    ----------
    geometry : line, view and readout.
    prior : what is known of the motion beforehand.
    lag_s : how long after the fact passages ought to be final.

    Attributes
    ----------
    model : what is known of how parts move, or None before the first frame.
    overdue : whether the tracks that are handed out must be judged at once.
    """

    def __init__(self, geometry: Geometry, prior: MotionPrior, lag_s: float) -> None:
        self._geometry = geometry
        self._hold_s = HELD_SHARE * lag_s
        self._running = RunningModel(geometry, prior)
        self._past: deque[Detections] = deque()
        self._linker: Linker | None = None
        self._begun_s: float | None = None
        self._busy_s = 0.0
        self._ended: list[Track] = []
        self._held: list[Track] = []
        self._held_since_s = 0.0
        self._tries = 0
        self.overdue = False

    @property
    def model(self) -> SpeedModel | None:
        """What is known of how parts move."""
        return self._running.model

    @property
    def active(self) -> Sequence[Track]:
        """The tracks that are followed still, or held."""
        following = () if self._linker is None else self._linker.active
        return (*following, *self._held)

    @property
    def idle(self) -> bool:
        """Whether nothing is learned or judged in this frame, so that others may work."""
        return self._linker is None or self._running.idle

    @property
    def pauses(self) -> bool:
        """Whether nothing is in view between two pours, or the run is over."""
        return self._begun_s is None

    def advance(self, frame: Detections, coming: Iterable[Detections]) -> list[Track]:
        """Take in the next frame; return tracks that have ended, now and then.

        `coming` are the frames behind it that have been seen already.
        """
        ended = self._follow(frame, coming)
        if not self._held:
            self._held_since_s = frame.t_s
        self._held += ended
        self.overdue = self._is_overdue(frame, next(iter(coming), None))
        return self._released() if self.overdue or self._running.begins else []

    def finish(self) -> list[Track]:
        """End of the run: return the tracks that were held or still followed."""
        opened = []
        if self._begun_s is not None and self._linker is None:
            frames = list(self._past)
            self._running.begin(frames)
            opened = self._followed(frames)
        still = self._linker.finish() if self._linker is not None else []
        self._begun_s = self._linker = None
        self.overdue = True
        return self._released() + opened + still

    def _is_overdue(self, frame: Detections, following: Detections | None) -> bool:
        """Whether the pour is over, or the next frame would be late."""
        if self._linker is None:
            return True
        usual_s = frame.t_s + self._linker.model.interval_s
        next_s = usual_s if following is None else following.t_s
        return next_s - self._held_since_s > self._hold_s

    def _released(self) -> list[Track]:
        released, self._held = self._held, []
        return released

    def _follow(self, frame: Detections, coming: Iterable[Detections]) -> list[Track]:
        """Take in the next frame; return the tracks that ended."""
        self._past.append(frame)
        if self._begun_s is None:
            if not len(frame):
                self._forget(LEADING_FRAMES)
                return []
            self._begin(frame)
        if len(frame):
            self._busy_s = frame.t_s
        if self._linker is None:
            return self._open(frame, list(coming))
        if self._running.is_foreign(frame):
            # What was followed so far was dust: the pour begins only now.
            self._running.forget()
            ended = self._linker.finish()
            self._begin(frame)
            self._forget(LEADING_FRAMES + 1)
            return ended
        self._linker.model = self._running.learn(self._ended, self._linker.active)
        ended = self._linker.link(frame)
        self._ended = [*self._ended, *ended][-learning.LATEST :]
        self._forget_before(frame.t_s - WINDOW_S)
        return ended + self._pause(frame)

    def _begin(self, frame: Detections) -> None:
        self._running.pour_begins()
        self._begun_s, self._linker, self._ended, self._tries = frame.t_s, None, [], 0

    def _open(self, frame: Detections, coming: Sequence[Detections]) -> list[Track]:
        """Follow the opening anew, now and then, until it is known how parts move."""
        assert self._begun_s is not None
        over = frame.t_s - self._begun_s >= OPENING_S
        self._tries += 1
        if not over and self._tries % TRIED_EVERY:
            return []
        frames = list(self._past)
        self._running.begin([*frames, *coming])
        ended = self._followed(frames)
        assert self._linker is not None
        if self._running.learn_opening(ended, self._linker.active):
            ended = self._followed(frames)
        elif not over:
            self._linker = None
            return []
        self._ended = ended[-learning.LATEST :]
        return ended + self._pause(frame)

    def _followed(self, frames: Sequence[Detections]) -> list[Track]:
        assert self.model is not None
        self._linker = Linker(self._geometry, self.model, surprised=False)
        return [track for frame in frames for track in self._linker.link(frame)]

    def _pause(self, frame: Detections) -> list[Track]:
        """End the pour where nothing has been in view for a while."""
        if frame.t_s - self._busy_s < PAUSE_S or self._linker is None:
            return []
        ended = self._linker.finish()
        self._begun_s = self._linker = None
        self._forget(LEADING_FRAMES)
        return ended

    def _forget(self, kept: int) -> None:
        while len(self._past) > kept:
            self._past.popleft()

    def _forget_before(self, t_s: float) -> None:
        while self._past[0].t_s < t_s:
            self._past.popleft()
