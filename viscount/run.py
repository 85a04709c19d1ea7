"""One camera's run from its first frame to its tally, whatever hands it the frames.

A recording and a live camera go through the same steps here: outlet and first frames to a
pipeline, frames to passages, passages to the tally.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from viscount._version import __version__
from viscount.agreement import statements
from viscount.agreement.lamp_light import LampLight
from viscount.agreement.result import CONFIDENCE, pours_of, result
from viscount.codes import Code
from viscount.errors import DetectorFailedError, OutletError
from viscount.hooks.registry import Registry
from viscount.measure.poured import pours_of_tally
from viscount.measure.slowness import slowness
from viscount.measure.spacing import spacing_at_line
from viscount.motion.geometry import Geometry
from viscount.motion.prior import geometry_of, motion_prior
from viscount.outlet import Box, MotionKind, Outlet, in_file, lamp_in_picture
from viscount.pipeline import Pipeline
from viscount.tally import (
    Assumption,
    CameraTally,
    CountedPassage,
    FileMark,
    FrameTally,
    PourTally,
    Reason,
    SetUp,
    Tally,
)
from viscount.values import Direction, Frame, Level, Notice, Passage, Status

Span = tuple[int, int]
"""From and to in ns, on the capture clock."""
COMMON = 0.8
"""Share of a centre's variance that a codec makes common to a part's sightings: found with
simulated pours in H.264, where crossing times were off by two to three times their sigma."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameFigures:
    """What became of a run's frames, as its source tells it."""

    read: int
    lost: int
    repeated: int
    damaged: int
    rate_hz: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a run was asked for, beside the outlet itself.

    Attributes
    ----------
    source : its name, as the tally gives it.
    part : mark of the part file, or None.
    given : settings of the command line, by key.
    expected : the number that ought to be there, or None.
    started_at : date and time of the first frame, or None.
    """

    source: str
    part: FileMark | None = None
    given: Mapping[str, object]
    expected: int | None = None
    started_at: datetime | None = None


class CameraRun:
    """One run of a camera. Begin it with the first frames, feed all of them, finish, ask the tally.

    Parameters
    ----------
    outlet : the settings in force; `mark` names their file.
    quiet_s : a pour ends after this long without a moving part.
    registry : loaded plugins.
    lag_ns : as for `viscount.pipeline.Pipeline`: None for a recording.

    Attributes
    ----------
    passages : those that are final, in the order in which they became so.
    failed : the detector broke; nothing more is looked at.
    """

    def __init__(
        self,
        outlet: Outlet,
        mark: FileMark | None,
        quiet_s: float,
        registry: Registry,
        *,
        lag_ns: int | None = None,
    ) -> None:
        self._outlet = outlet
        self._mark = mark
        self._quiet_ns = round(quiet_s * 1e9)
        self._registry = registry
        self._lag_ns = lag_ns
        self._failed: tuple[Notice, ...] = ()
        self._lamp: LampLight | None = None
        self._first_ns = 0
        self._last_ns = 0
        self.passages: list[Passage] = []

    @property
    def failed(self) -> bool:
        """Whether the detector broke."""
        return bool(self._failed)

    @property
    def geometry(self) -> Geometry:
        """Line, view and readout, once the run has begun."""
        return self._geometry

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What there is to say so far."""
        return (*self._pipeline.notices, *self._failed)

    @property
    def set_up(self) -> SetUp:
        """What the passages rest on by now, once the run has begun."""
        return self._set_up(self._scale(self._slowness()))

    def begin(
        self, opening: Sequence[Frame], *, sigma_frame_s: float = 0.0, lossless: bool = False
    ) -> None:
        """Make the pipeline for these frames, and let its detector look at them.

        Parameters
        ----------
        opening : the first frames, one at least; they are to be fed afterwards.
        sigma_frame_s : by how much each frame's own time is off, by chance.
        lossless : no codec has changed the pictures.

        Raises
        ------
        viscount.errors.ViscountError : outlet or detector do not fit.
        """
        height, width = opening[0].pixels.shape
        try:
            geometry = geometry_of(self._outlet, height, width)
        except OutletError as error:
            raise in_file(error, self._mark) from error
        self._geometry = replace(
            geometry, sigma_frame_s=sigma_frame_s, common=0.0 if lossless else COMMON
        )
        where = self._mark.name if self._mark is not None else ""
        lamp = self._lamp_at(height, width)
        self._pipeline = Pipeline(
            self._registry.detector_for(self._outlet, where=where),
            self._geometry,
            motion_prior(self._outlet, self._geometry),
            lag_ns=self._lag_ns,
            quiet_ns=self._quiet_ns,
            lamp=lamp,
        )
        self._first_ns = self._last_ns = opening[0].t_ns
        self._pipeline.prime(opening)

    def feed(self, frame: Frame) -> list[Passage]:
        """Take in one frame; return the passages that became final.

        A detector that breaks ends the run: `failed` is then true.
        """
        if self._lamp is not None:
            self._lamp.look(frame)
        try:
            found = self._pipeline.feed(frame)
        except DetectorFailedError as error:
            failed = Notice(level=Level.INVALID, code=Code.DETECTOR_FAILED, text=str(error))
            self._failed = (failed,)
            return []
        self._last_ns = frame.t_ns
        self.passages += found
        return found

    def finish(self, *, clock_sigma_ns: float = 0.0) -> list[Passage]:
        """End the run: return the passages that became final only now.

        `clock_sigma_ns` is by how much the clock is off as a whole; it is added to all passages.
        """
        last = self._pipeline.finish()
        own = sorted([*self.passages, *last], key=lambda p: (p.t_ns, p.id))
        if clock_sigma_ns:
            # The tracker knows of single frames' times.
            own = [
                replace(p, sigma_ns=round(float(np.hypot(p.sigma_ns, clock_sigma_ns)))) for p in own
            ]
        self.passages = own
        return last

    def tally(
        self,
        asked: Asked,
        frames: FrameFigures,
        notices: Sequence[Notice] = (),
        blind: Sequence[Span] = (),
    ) -> Tally:
        """Return what the finished run comes to.

        Parameters
        ----------
        notices : what there is to say of the source.
        blind : when a part could have passed unseen, beside what the pipeline knows.
        """
        passages = self.passages
        said = [*notices, *self._pipeline.notices, *self._failed]
        if not passages and not self._failed:
            text = statements.nothing_seen(self._pipeline.detectable_grey)
            said.append(Notice(level=Level.DOUBT, code=Code.NOTHING_SEEN, text=text))
        slow = self._slowness()
        whole = result(passages, said, self._first_ns)
        reasons = statements.without_times(whole.reasons, slow)
        scale = self._scale(slow)
        pours = pours_of(passages, self._quiet_ns)
        invalid = whole.status is Status.INVALID
        tally = Tally(
            made_by=f"viscount {__version__}",
            source=asked.source,
            outlet=self._mark,
            part=asked.part,
            started_at=asked.started_at,
            count=None if invalid else whole.count,
            count_low=whole.low,
            count_high=whole.high,
            confidence=CONFIDENCE,
            expected=asked.expected,
            counted_at=statements.counted_at(self._outlet, self.geometry.line_px),
            in_bag=None,
            held=None,
            status=whole.status,
            reasons=reasons,
            assumed=self._assumed(asked.given, frames.rate_hz),
            notes=statements.notes(said),
            camera=self._camera_tally(passages, whole.status, reasons),
            pours=tuple(self._pour(pour) for pour in pours),
            passages=tuple(
                CountedPassage(
                    pour=number,
                    passage=replace(p, t_ns=p.t_ns - self._first_ns),
                    speed_mm_s=None if scale is None else p.speed_px_s / scale,
                )
                for number, pour in enumerate(pours, start=1)
                for p in pour
            ),
            frames=FrameTally(
                read=frames.read,
                lost=frames.lost,
                repeated=frames.repeated,
                damaged=frames.damaged,
                rate_hz=frames.rate_hz,
                blind=self._blind(blind),
                end_s=self._seconds(max(self._last_ns, self._first_ns)),
            ),
            spacing=None,
            set_up=self._set_up(scale),
            lamp=None if self._lamp is None else self._lamp.events(self._first_ns),
        )
        return replace(tally, spacing=spacing_at_line(pours_of_tally(tally, self._outlet)))

    def _lamp_at(self, height: int, width: int) -> Box | None:
        """Return where the lamp is, if the outlet file tells, and begin to look at it."""
        try:
            box = lamp_in_picture(self._outlet, height, width)
        except OutletError as error:
            raise in_file(error, self._mark) from error
        if box is not None:
            x0, y0, x1, y1 = box
            ends = np.array([x0, x1 - 1.0]), np.array([y0, y1 - 1.0])
            first, last = self.geometry.line_delay_s(*ends)
            self._lamp = LampLight(box, (float(first), float(last)))
        return box

    def _blind(self, more: Sequence[Span]) -> tuple[tuple[float, float], ...]:
        """Return all blind time in s, in order and without overlap where more is known of it."""
        own = [(gap.start_ns, gap.end_ns) for gap in self._pipeline.blind]
        spans = own if not more else united([*own, *more])
        return tuple((self._seconds(start), self._seconds(end)) for start, end in spans)

    def _scale(self, slow: Notice | None) -> float | None:
        """Return the stated scale, unless the fall contradicts the clock."""
        return None if slow is not None else self._outlet.view.scale_px_per_mm

    def _set_up(self, scale: float | None) -> SetUp:
        model = self._pipeline.model
        length = 0.0 if model is None else model.ahead_px + model.behind_px
        return SetUp(
            falls=self._outlet.falls,
            line_px=self.geometry.line_px,
            view_px=self.geometry.bottom - self.geometry.top,
            scale_px_per_mm=scale,
            acceleration_px_s2=None if model is None else float(model.acceleration),
            head_share=model.ahead_px / length if model is not None and length > 0 else 0.5,
            quiet_s=self._quiet_ns * 1e-9,
        )

    def _slowness(self) -> Notice | None:
        """Say whether the fall contradicts the file's clock; a stated capture rate is believed."""
        outlet, model = self._outlet, self._pipeline.model
        scale = outlet.view.scale_px_per_mm
        falls = outlet.motion.kind is MotionKind.FREE_FALL
        if model is None or not model.learned or not falls or scale is None:
            return None
        found = slowness(model.acceleration, scale)
        return None if found is None else found.notice()

    def _assumed(
        self, given: Mapping[str, object], rate_hz: float | None
    ) -> tuple[Assumption, ...]:
        model = self._pipeline.model
        taught = model is not None and model.learned
        return statements.assumptions(
            self._outlet,
            given,
            line_px=self.geometry.line_px,
            speed_px_s=float(np.median(model.speed)) if model is not None and taught else None,
            acceleration_px_s2=model.acceleration if model is not None and taught else None,
            rate_hz=rate_hz,
        )

    def _camera_tally(
        self, passages: list[Passage], status: Status, reasons: tuple[Reason, ...]
    ) -> CameraTally:
        through = sum(p.parts for p in passages if p.direction is Direction.WITH)
        against = sum(p.parts for p in passages if p.direction is Direction.AGAINST)
        return CameraTally(count=through, against=against, status=status, reasons=reasons)

    def _pour(self, pour: list[Passage]) -> PourTally:
        part = result(pour, (), self._first_ns)
        return PourTally(
            start_s=self._seconds(pour[0].t_ns),
            end_s=self._seconds(pour[-1].t_ns),
            count=part.count,
            count_low=part.low,
            count_high=part.high,
            status=part.status,
            reasons=part.reasons,
        )

    def _seconds(self, t_ns: int) -> float:
        return (t_ns - self._first_ns) * 1e-9


def united(spans: Sequence[Span]) -> list[Span]:
    """Return the same stretches of time in order, those that overlap or touch made one."""
    made: list[Span] = []
    for start, end in sorted(spans):
        if made and start <= made[-1][1]:
            made[-1] = (made[-1][0], max(made[-1][1], end))
        else:
            made.append((start, end))
    return made
