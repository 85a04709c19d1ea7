"""Counting frames as they come: each looked at once, timed, counted, recorded and shown."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np

from viscount.clock import Clock
from viscount.codes import Code
from viscount.hooks.registry import Registry
from viscount.measure.frame_clock import fit_frame_clock
from viscount.motion.live import HELD_SHARE
from viscount.motion.tracker import JITTER_SHARE
from viscount.pipeline import PRIMING_FRAMES
from viscount.run import Asked, CameraRun, united
from viscount.session.capture import Taken
from viscount.session.frame_book import FrameBook
from viscount.session.plan import LivePlan
from viscount.session.pour_pairs import Looks
from viscount.session.spread import Percentiles
from viscount.tally import Tally
from viscount.values import Direction, Frame, Level, Notice, Passage

LAG_NS = 100_000_000
"""Passages become final so long after their tracks ended, and by `LATER_NS` at most later."""
LATER_NS = round((HELD_SHARE + JITTER_SHARE) * LAG_NS)
PRIMING_NS = 2_000_000_000
"""The first frames are looked at for no longer than this before they are counted."""
TICK_NS = 1000.0

Taker = Callable[[Frame, int], None]
"""Is handed each frame that is counted, times from the first, with its age in ns."""


class LiveCount:
    """Counts the frames of one live run, over however many openings of its camera.

    Frame times are put on one clock: each opening's first frame was taken its age before it
    arrived, and all others keep their distance from it.

    Parameters
    ----------
    plan : of the run.
    registry : loaded plugins.
    clock : of the host.
    taken : is handed each frame once its time is known, before it is counted.

    Attributes
    ----------
    work, age : how long counting a frame took, and how old it was by then, in s.
    """

    def __init__(self, plan: LivePlan, registry: Registry, clock: Clock, taken: Taker) -> None:
        self._plan = plan
        self._clock = clock
        self._taken = taken
        self._run = CameraRun(plan.outlet, plan.outlet_mark, plan.quiet_s, registry, lag_ns=LAG_NS)
        self._book = FrameBook()
        self._opening_frames: list[Frame] | None = []
        self._opened = 0
        self._offset_ns = 0
        self._origin_ns: int | None = None
        self._last_ns: int | None = None
        self._next = 0
        self._hole = False
        self._missing = 0
        self._holes: list[tuple[int, int]] = []
        self._count = 0
        self._started_at: datetime | None = None
        self.work, self.age = Percentiles(), Percentiles()
        self.last_age_s = 0.0

    @property
    def began(self) -> bool:
        """Whether enough frames have come to begin counting."""
        return self._opening_frames is None

    @property
    def failed(self) -> bool:
        """Whether the detector broke."""
        return self._run.failed

    @property
    def run(self) -> CameraRun:
        """The run itself."""
        return self._run

    @property
    def book(self) -> FrameBook:
        """The account of the frames."""
        return self._book

    @property
    def parts(self) -> int:
        """Parts through the line so far."""
        return self._count

    @property
    def last_ns(self) -> int | None:
        """The last frame's time, from the first; None before that."""
        return self._last_ns

    @property
    def origin_ns(self) -> int:
        """The host's clock at the run's time zero; 0 before the first frame."""
        return self._origin_ns or 0

    @property
    def final_ns(self) -> int:
        """Up to here all passages are final, on the host's clock; -1 before counting began."""
        if not self.began or self._origin_ns is None or self._last_ns is None:
            return -1
        return self._origin_ns + self._last_ns - 2 * LAG_NS - LATER_NS

    @property
    def blind_s(self) -> float:
        """Time in which no picture was counted that should have been, so far."""
        return sum(end - start for start, end in united(self._holes)) * 1e-9

    def looks(self) -> Looks | None:
        """Return how the camera looks at the parts; None before counting began."""
        if not self.began:
            return None
        return Looks(set_up=self._run.set_up, rate_hz=self._book.rate_hz)

    def take(self, taken: Taken, *, may_repeat: bool, recorded: bool) -> tuple[list[Passage], bool]:
        """Take in a frame; return the passages that became final, and whether it repeats one.

        A picture that repeats the one before, from a camera that never does, is old: it is left
        out, and so is a damaged one. What is left out is a gap.
        """
        began_ns = self._clock.now_ns()
        self.missed(taken.missed)
        repeated = taken.frame.repeated or (
            not may_repeat and self._book.is_repeated(taken.frame.pixels)
        )
        if repeated:
            self._book.repeated()
            if not may_repeat:
                return [], True
        if taken.frame.damaged and not recorded:
            self._book.damaged()
            self._hole = True
            return [], repeated
        frame = self._placed(taken, repeated)
        if frame is None:
            return [], repeated
        age_ns = taken.frame.age_ns + self._clock.now_ns() - taken.arrived_ns
        self._taken(frame, age_ns)
        found = self._fed(frame)
        ended_ns = self._clock.now_ns()
        self.work.add((ended_ns - began_ns) * 1e-9)
        self.last_age_s = (taken.frame.age_ns + ended_ns - taken.arrived_ns) * 1e-9
        self.age.add(self.last_age_s)
        return found, repeated

    def missed(self, frames: int) -> None:
        """Note frames that came and could not be taken."""
        if frames:
            self._book.dropped += frames
            self._hole = True
            self._missing += frames

    def begin(self) -> list[Passage]:
        """Begin with the frames that have come, however few; return what became final."""
        opening, self._opening_frames = self._opening_frames or [], None
        self._run.begin(opening, sigma_frame_s=_scatter_s(opening))
        return self._counted([p for frame in opening for p in self._run.feed(frame)])

    def end(self, gone_ns: int | None = None) -> list[Passage]:
        """End the run; return the last passages.

        Parameters
        ----------
        gone_ns : the time on the host's clock at which the run ended while its camera was gone.
        """
        last = self._counted(self._run.finish())
        rate_hz = self._book.rate_hz
        if self._missing and rate_hz and self._last_ns is not None:
            missing_ns = round(1e9 * self._missing / rate_hz)
            self._holes.append((self._last_ns, self._last_ns + missing_ns))
        if gone_ns is not None and self._origin_ns is not None and self._last_ns is not None:
            end_ns = gone_ns - self._origin_ns
            if end_ns > self._last_ns:
                self._holes.append((self._last_ns, end_ns))
        return last

    def tally(self, notices: Sequence[Notice], *, gone: bool) -> Tally:
        """Return what the ended run comes to.

        Parameters
        ----------
        notices : what there is to say of the camera.
        gone : the camera was gone as the run ended.
        """
        said = [*notices, *self._book.notices(self._plan.source)]
        if gone:
            text = f"the camera was gone for the last {self._gone_s():.2f} s of the run"
            said.append(Notice(level=Level.DOUBT, code=Code.CAMERA_GONE, text=text))
        asked = Asked(
            source=self._plan.source,
            part=self._plan.part_mark,
            given=self._plan.given,
            expected=self._plan.expected,
            started_at=self._started_at,
        )
        return self._run.tally(asked, self._book.figures(), said, self._holes)

    def _gone_s(self) -> float:
        start, end = self._holes[-1] if self._holes else (0, 0)
        return (end - start) * 1e-9

    def _placed(self, taken: Taken, repeated: bool) -> Frame | None:
        """Return the frame with its number and time in the run; None where time stands."""
        own = taken.frame
        if taken.opening != self._opened:
            self._open(taken)
        t_ns = own.t_ns + self._offset_ns
        if self._last_ns is not None and t_ns <= self._last_ns:
            return None
        if self._hole and self._last_ns is not None:
            self._holes.append((self._last_ns, t_ns))
        self._hole, self._missing = False, 0
        self._last_ns = t_ns
        self._book.count(t_ns)
        self._next += 1
        return replace(own, index=self._next - 1, t_ns=t_ns, repeated=repeated)

    def _open(self, taken: Taken) -> None:
        """Put an opening of the camera on the run's clock; a later one leaves a hole."""
        own = taken.frame
        host_ns = taken.arrived_ns - own.age_ns
        if self._origin_ns is None:
            self._origin_ns = host_ns
            self._started_at = self._clock.date()
        else:
            self._hole = True
        t_ns = host_ns - self._origin_ns
        if self._last_ns is not None:
            # A camera's own clock may have run fast; time goes on all the same.
            t_ns = max(t_ns, self._last_ns + round(1e9 / (self._book.rate_hz or 1000.0)))
        self._offset_ns = t_ns - own.t_ns
        self._opened = taken.opening

    def _fed(self, frame: Frame) -> list[Passage]:
        opening = self._opening_frames
        if opening is None:
            return self._counted(self._run.feed(frame))
        opening.append(frame)
        if len(opening) < PRIMING_FRAMES and frame.t_ns - opening[0].t_ns < PRIMING_NS:
            return []
        return self.begin()

    def _counted(self, passages: list[Passage]) -> list[Passage]:
        for one in passages:
            self._count += one.parts if one.direction is Direction.WITH else -one.parts
        return passages


def _scatter_s(opening: Sequence[Frame]) -> float:
    """Return by how much the first frames' own times are off a steady camera's, as a rule."""
    times = np.array([frame.t_ns for frame in opening], np.int64)
    clock = fit_frame_clock(times, TICK_NS)
    if not clock.steady:
        return 0.0
    return 1e-9 * float(np.sqrt(np.mean((clock.raw_ns - clock.true_ns) ** 2)))
