"""The pipeline: a frame in, what is new out. Composes the pure rooms; no threads, no files."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np

from viscount import fall
from viscount.codes import Code
from viscount.covered import Box, Covered
from viscount.errors import DetectorFailedError
from viscount.motion.frozen import Frozen
from viscount.motion.geometry import Geometry
from viscount.motion.speed import MotionPrior, SpeedModel
from viscount.motion.tracker import Shown, Tracker
from viscount.seams import Detector
from viscount.values import Blob, Frame, Level, Notice, Passage, Seeing, Sighting

PRIMING_FRAMES = 100
"""Frames that a detector may look at before the first is judged."""
GAP_FACTOR = 1.5
"""A step between frames this much longer than the usual one is a gap."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch of time without a picture that shows anything; from and to in ns."""

    start_ns: int
    end_ns: int
    after_frame: int
    why: Code


class Pipeline:
    """From frames to passages, for a recorded clip or a live camera.

    Parameters
    ----------
    detector : a made detector; it is handed the region of the geometry only.
    geometry : line, view and readout.
    prior : what is known of the motion beforehand.
    lag_ns : see `Tracker`; None for a recorded clip.
    quiet_ns : a pour ends after this long without a moving part.
    shown : is shown each track that was counted; see `Tracker`.
    lamp : (x0, y0, x1, y1) of a signal lamp in the picture, half-open: the detector does not see
        it change.
    """

    def __init__(
        self,
        detector: Detector,
        geometry: Geometry,
        prior: MotionPrior,
        *,
        lag_ns: int | None = None,
        quiet_ns: int = 1_000_000_000,
        shown: Shown | None = None,
        lamp: Box | None = None,
    ) -> None:
        self._detector = detector
        self._geometry = geometry
        self._prior = prior
        self._tracker = Tracker(geometry, prior, lag_ns=lag_ns, quiet_ns=quiet_ns, shown=shown)
        self._frozen = Frozen()
        self._lamp = None if lamp is None else Covered(lamp)
        self._first_frozen: int | None = None
        self._frozen_frames = 0
        self._notices: list[Notice] = []
        self._gaps: list[Gap] = []
        self._blind: list[Gap] = []
        self._steps: list[int] = []
        self._last: Frame | None = None
        self._last_seen = False
        self._busy = False
        self._held: tuple[Frame, Sighting] | None = None
        self.detectable_grey: float | None = None
        """The least step from the background that is seen as foreground; None while unknown."""

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What there is to say so far; complete after `finish`."""
        return (*self._notices, *self._tracker.notices)

    @property
    def blind(self) -> tuple[Gap, ...]:
        """When a part could have passed unseen, in order of time; complete after `finish`."""
        return tuple(self._blind)

    @property
    def model(self) -> SpeedModel | None:
        """How parts move, as far as that is known."""
        return self._tracker.model

    def prime(self, frames: Sequence[Frame]) -> None:
        """Let the detector learn from the first frames; hand them to `feed` afterwards."""
        self._detector.prime([self._cut(self._unlit(frame)) for frame in frames])

    def feed(self, frame: Frame) -> list[Passage]:
        """Take in one frame; return the passages that became final."""
        frame = self._unlit(frame)
        if frame.repeated and self._busy:
            # An old picture under a new time would put every part in the wrong place.
            return []
        seen = self._placed(self._seen(frame))
        self.detectable_grey = seen.detectable_contrast
        for notice in seen.notices:
            self._say(notice)
        if self._frozen.is_frozen(seen):
            # As above; an encoder has changed the old picture by a trace.
            self._frozen_frames += 1
            if self._first_frozen is None:
                self._first_frozen = frame.index
            return []
        if frame.repeated and not seen.blobs:
            found = self._take_held()
            self._held = frame, seen
            return found
        # Encoders leave empty pictures as they are, so most of those are new. One that is followed
        # by something may be old: it does not tell that nothing was there.
        found = [] if seen.blobs else self._take_held()
        self._held = None
        return found + self._take(frame, seen)

    def _take_held(self) -> list[Passage]:
        held, self._held = self._held, None
        return [] if held is None else self._take(*held)

    def _take(self, frame: Frame, seen: Sighting) -> list[Passage]:
        self._watch_time(frame, seen)
        self._last = frame
        self._busy = bool(seen.blobs)
        return self._tracker.feed(seen)

    def _seen(self, frame: Frame) -> Sighting:
        try:
            return self._detector.see(self._cut(frame))
        except Exception as error:
            raise DetectorFailedError(
                f"the detector broke: {type(error).__name__}: {error}",
                where=f"frame {frame.index}",
                remedy=Code.DETECTOR_FAILED.remedy,
            ) from error

    def finish(self) -> list[Passage]:
        """End of the run: return the remaining passages."""
        last = self._take_held() + self._tracker.finish()
        self._judge_gaps()
        self._judge_rate()
        if self._first_frozen is not None:
            self._say(_frozen_notice(self._frozen_frames, self._first_frozen))
        return last

    def time_in_view_s(self) -> float | None:
        """Return how long a part's centre is in view, by the speeds that were learned."""
        model = self.model
        if model is None or not model.learned:
            return None
        u = float(np.max(model.speed))
        ends = np.array([self._geometry.top, self._geometry.bottom])
        entry, leaving = fall.time_to(u, model.acceleration, ends)
        return float(leaving - entry)

    def _unlit(self, frame: Frame) -> Frame:
        return frame if self._lamp is None else self._lamp.cover(frame)

    def _cut(self, frame: Frame) -> Frame:
        x0, y0, x1, y1 = self._geometry.view
        if (y0, x0, y1, x1) == (0, 0, *self._geometry.picture):
            return frame
        return replace(frame, pixels=frame.pixels[y0:y1, x0:x1])

    def _placed(self, sighting: Sighting) -> Sighting:
        """Move a sighting of the region into the picture."""
        x0, y0, _, _ = self._geometry.view
        if x0 or y0:
            moved = tuple(_moved(blob, x0, y0) for blob in sighting.blobs)
            sighting = replace(sighting, blobs=moved)
        return sighting if self._lamp is None else self._lamp.without(sighting)

    def _watch_time(self, frame: Frame, seen: Sighting) -> None:
        if self._last is not None:
            step = frame.t_ns - self._last.t_ns
            usual = median(self._steps[-64:]) if self._steps else step
            if step > GAP_FACTOR * usual and len(self._steps) >= 3:
                self._gap(self._last.t_ns, frame.t_ns, self._last.index, Code.FRAMES_LOST)
            self._steps.append(step)
            if len(self._steps) > 4096:
                del self._steps[:2048]
        if seen.state is not Seeing.SEEING:
            start = frame.t_ns if self._last is None else self._last.t_ns
            why = Code.LIGHT_CHANGED if seen.state is Seeing.BLIND else Code.BLIND
            self._gap(start, frame.t_ns, frame.index, why)
        self._last_seen = seen.state is Seeing.SEEING

    def _gap(self, start_ns: int, end_ns: int, frame: int, why: Code) -> None:
        joins = bool(self._gaps) and self._gaps[-1].end_ns == start_ns and not self._last_seen
        if joins:  # with nothing seen in between, the two are one
            self._gaps[-1] = replace(self._gaps[-1], end_ns=end_ns)
        elif end_ns > start_ns:
            self._gaps.append(Gap(start_ns=start_ns, end_ns=end_ns, after_frame=frame, why=why))

    def _judge_gaps(self) -> None:
        """Doubt the count where a part could have passed in a gap with less than half of it seen.

        What shows half of itself at a border, before the gap or after it, is followed, or doubted.
        """
        view_s = self.time_in_view_s()
        if view_s is None:
            # Nothing moved, so nobody knows how long a part would be in view.
            self._blind = [gap for gap in self._gaps if gap.why is not Code.FRAMES_LOST]
            return
        for gap in self._gaps:
            length_s = (gap.end_ns - gap.start_ns) * 1e-9
            if length_s > view_s:
                self._blind.append(gap)
                self._say(_gap_notice(gap, length_s, view_s))

    def _judge_rate(self) -> None:
        """Refuse a count where parts cross the view between two frames."""
        view_s = self._known_time_in_view_s()
        if not self._steps or view_s is None:
            return
        step_s = median(self._steps) * 1e-9
        if step_s >= view_s:
            text = (
                f"in view {1e3 * view_s:.1f} ms, frames every {1e3 * step_s:.1f} ms: "
                "each part at most once"
            )
            self._say(Notice(level=Level.INVALID, code=Code.TOO_FEW_SIGHTINGS, text=text))

    def _known_time_in_view_s(self) -> float | None:
        """Return the time in view by the stated speed, else by the learned one."""
        speed, acceleration = self._prior.speed_px_s, self._prior.acceleration_px_s2
        if speed is None or acceleration is None:
            return self.time_in_view_s()
        ends = np.array([self._geometry.top, self._geometry.bottom])
        entry, leaving = fall.time_to(speed, acceleration, ends)
        return float(leaving - entry)

    def _say(self, notice: Notice) -> None:
        known = {(n.code, n.where, n.text) for n in self._notices}
        if (notice.code, notice.where, notice.text) not in known:
            self._notices.append(notice)


def _moved(blob: Blob, dx: int, dy: int) -> Blob:
    x0, y0, x1, y1 = blob.box
    return replace(
        blob,
        x_px=blob.x_px + dx,
        y_px=blob.y_px + dy,
        box=(x0 + dx, y0 + dy, x1 + dx, y1 + dy),
    )


def _frozen_notice(frames: int, first: int) -> Notice:
    what = f"{frames} frame{'s' if frames > 1 else ''}"
    text = (
        f"in {what} all that was on its way stands still; left out as the picture of the frame "
        f"before, the first is frame {first}"
    )
    return Notice(level=Level.INFO, code=Code.FRAMES_REPEATED, text=text)


def _gap_notice(gap: Gap, length_s: float, view_s: float) -> Notice:
    what = "gap" if gap.why is Code.FRAMES_LOST else "blind"
    text = (
        f"{what} {1e3 * length_s:.1f} ms after frame {gap.after_frame}, longer than the "
        f"{1e3 * view_s:.1f} ms for which a part's middle is in view"
    )
    code = Code.FRAMES_LOST if gap.why is Code.FRAMES_LOST else Code.BLIND
    return Notice(level=Level.DOUBT, code=code, text=text, where=f"frame {gap.after_frame}")
