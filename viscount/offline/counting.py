"""Counting a recording: frames in, a tally out; with a beam log beside it, that of both."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from viscount._version import __version__
from viscount.agreement import statements
from viscount.agreement.lamp_light import LampLight
from viscount.agreement.result import CONFIDENCE, pours_of, result
from viscount.codes import Code
from viscount.counters.both import with_beam
from viscount.counters.check_pour import with_hand_count
from viscount.counters.total import with_total
from viscount.devices.cameras.clocked import Clocked
from viscount.devices.cameras.playback import PlaybackCamera
from viscount.devices.cameras.source import open_source
from viscount.devices.cameras.stills import StillsCamera
from viscount.devices.cameras.watcher import Watcher
from viscount.errors import DetectorFailedError, OutletError, UsageError
from viscount.hooks.loading import load_plugins
from viscount.hooks.registry import Registry
from viscount.measure.poured import pours_of_tally
from viscount.measure.slowness import slowness
from viscount.measure.spacing import spacing_at_line
from viscount.motion.prior import geometry_of, motion_prior
from viscount.offline.bags import gate_seen, with_bags
from viscount.offline.beam_file import beam_seen
from viscount.outlet import (
    Box,
    MotionKind,
    Outlet,
    Part,
    in_file,
    lamp_in_picture,
    marked_outlet,
    marked_part,
    outlet_with,
)
from viscount.pipeline import PRIMING_FRAMES, Pipeline
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
from viscount.values import Direction, Level, Notice, Passage, Status

DEFAULT_QUIET_S = 1.0


def count(
    source: str | Path,
    *,
    outlet: str | Path | Outlet | None = None,
    part: str | Path | Part | None = None,
    expected: int | None = None,
    settings: Sequence[str] = (),
    quiet_s: float = DEFAULT_QUIET_S,
    registry: Registry | None = None,
    watcher: Watcher | None = None,
    threads: int | None = None,
    beam: str | Path | None = None,
    beam_total: int | None = None,
    hand_count: int | None = None,
    gate_log: str | Path | None = None,
    strokes: str | Path | None = None,
    held: int | None = None,
) -> Tally:
    """Count the parts that cross the line in a recording.

    Parameters
    ----------
    source : a clip of any container, a folder of pictures, or a picture file.
    outlet : outlet file or loaded outlet; without one the line is the middle of the picture
        and parts fall down.
    part : part file or loaded part; stands over the outlet's own.
    expected : the number that ought to be there.
    settings : ``key=value`` texts that stand over the outlet file.
    quiet_s : a pour ends after this long without a moving part.
    registry : loaded plugins; None loads those that are installed.
    watcher : is shown each frame.
    threads : decoder threads; None leaves the choice to the decoder.
    beam : the beam's log of the same pour; the tally is then that of both counters.
    beam_total : a bare number from a machine that shows no more.
    hand_count : how many there were, for a check pour.
    gate_log : the commands to the gate; with the line above the blade they tell the bags apart.
    strokes : the gate's measured strokes, which its log needs where the line is above the blade.
    held : how many parts lay on the shut blade when the recording began.

    Raises
    ------
    viscount.errors.ViscountError : for input that cannot be read or does not fit.

    Examples
    --------
    >>> import viscount
    >>> tally = viscount.count("fixtures/screws/clip.mp4", outlet="fixtures/screws/outlet.yaml")
    >>> tally.count, tally.status.value
    (12, 'clean')
    """
    if not (math.isfinite(quiet_s) and quiet_s > 0):
        raise UsageError(f"a quiet time of {quiet_s:g} s", allowed="more than 0 s")
    if expected is not None and expected < 0:
        raise UsageError(f"an expected count of {expected}", allowed="0 or more")
    _require_one_beam(beam, beam_total)
    if hand_count is not None and hand_count < 0:
        raise UsageError(f"a hand count of {hand_count}", allowed="0 or more")
    outlet, outlet_mark = marked_outlet(outlet)
    outlet, given = outlet_with(outlet, settings)
    part, part_mark = marked_part(part)
    if part is not None:
        outlet = outlet.model_copy(update={"part": part})
    # Before the clip, which may take minutes: a log that cannot be read.
    seen = None if beam is None else beam_seen(beam, outlet)
    gate = gate_seen(gate_log, strokes, held)
    run = _Run(outlet, outlet_mark, quiet_s, registry or load_plugins(), watcher)
    with open_source(source, capture_fps=outlet.camera.capture_fps, threads=threads) as camera:
        passages = run.through(camera)
        tally = run.tally(camera, passages, given, part_mark, expected)
    tally = replace(tally, spacing=spacing_at_line(pours_of_tally(tally, outlet)))
    if seen is not None and tally.set_up is not None:
        tally = with_beam(tally, seen, outlet, tally.set_up)
    if beam_total is not None:
        tally = with_total(tally, beam_total)
    tally = with_bags(tally, outlet, gate)
    return tally if hand_count is None else with_hand_count(tally, hand_count)


def _require_one_beam(beam: str | Path | None, total: int | None) -> None:
    if beam is not None and total is not None:
        raise UsageError(
            "a beam log and a beam total together",
            where="--beam-total",
            allowed="one of --beam and --beam-total",
            remedy="leave the total out: the log says more",
        )
    if total is not None and total < 0:
        raise UsageError(f"a beam total of {total}", where="--beam-total", allowed="0 or more")


class _Run:
    """One offline run, from the first frame to the tally."""

    def __init__(
        self,
        outlet: Outlet,
        mark: FileMark | None,
        quiet_s: float,
        registry: Registry,
        watcher: Watcher | None,
    ) -> None:
        self._outlet = outlet
        self._mark = mark
        self._quiet_ns = round(quiet_s * 1e9)
        self._registry = registry
        self._watcher = watcher
        self._failed: tuple[Notice, ...] = ()
        self._lamp: LampLight | None = None
        self._first_ns = 0
        self._last_ns = 0

    def through(self, camera: PlaybackCamera | StillsCamera) -> list[Passage]:
        """Feed the whole recording; return the passages in order of time."""
        clocked = Clocked(camera)
        self._clock = clocked.clock
        opening, frames = clocked.opened(PRIMING_FRAMES)
        self._pipeline = self._made(*opening[0].pixels.shape)
        self._first_ns = opening[0].t_ns
        self._pipeline.prime(opening)
        if self._watcher is not None:
            self._watcher.start(self._outlet, self.geometry.line_px, clocked.known_frames)
        passages: list[Passage] = []
        try:
            for frame in frames:
                if self._lamp is not None:
                    self._lamp.look(frame)
                passages += self._pipeline.feed(frame)
                self._last_ns = frame.t_ns
                if self._watcher is not None:
                    self._watcher.frame(frame)
        except DetectorFailedError as error:
            self._failed = (
                Notice(level=Level.INVALID, code=Code.DETECTOR_FAILED, text=str(error)),
            )
        passages += self._pipeline.finish()
        return self._with_clock_sigma(sorted(passages, key=lambda p: (p.t_ns, p.id)))

    def tally(
        self,
        camera: PlaybackCamera | StillsCamera,
        passages: list[Passage],
        given: Mapping[str, object],
        part_mark: FileMark | None,
        expected: int | None,
    ) -> Tally:
        """Return what the run comes to."""
        report = camera.report()
        notices = [*camera.notices(), *self._pipeline.notices, *self._failed]
        if not passages and not self._failed:
            notices.append(
                Notice(level=Level.DOUBT, code=Code.NOTHING_SEEN, text=Code.NOTHING_SEEN.meaning)
            )
        slow = self._slowness()
        whole = result(passages, notices, self._first_ns)
        reasons = statements.without_times(whole.reasons, slow)
        scale = None if slow is not None else self._outlet.view.scale_px_per_mm
        pours = pours_of(passages, self._quiet_ns)
        invalid = whole.status is Status.INVALID
        return Tally(
            made_by=f"viscount {__version__}",
            source=str(camera.path),
            outlet=self._mark,
            part=part_mark,
            started_at=None,
            count=None if invalid else whole.count,
            count_low=whole.low,
            count_high=whole.high,
            confidence=CONFIDENCE,
            expected=expected,
            counted_at=statements.counted_at(self._outlet, self.geometry.line_px),
            in_bag=None,
            held=None,
            status=whole.status,
            reasons=reasons,
            assumed=self._assumed(given, report.rate_hz),
            notes=statements.notes(notices),
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
                read=report.read,
                lost=report.lost,
                repeated=report.repeated,
                damaged=report.damaged,
                rate_hz=report.rate_hz,
                blind=tuple(
                    (self._seconds(gap.start_ns), self._seconds(gap.end_ns))
                    for gap in self._pipeline.blind
                ),
                end_s=self._seconds(max(self._last_ns, self._first_ns)),
            ),
            spacing=None,
            set_up=self._set_up(scale),
            lamp=None if self._lamp is None else self._lamp.events(self._first_ns),
        )

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

    def _made(self, height: int, width: int) -> Pipeline:
        try:
            geometry = geometry_of(self._outlet, height, width)
        except OutletError as error:
            raise in_file(error, self._mark) from error
        sigma_frame_s = 0.0 if self._clock is None else self._clock.sigma_frame_s
        self.geometry = replace(geometry, sigma_frame_s=sigma_frame_s)
        where = self._mark.name if self._mark is not None else ""
        detector = self._registry.detector_for(self._outlet, where=where)
        prior = motion_prior(self._outlet, self.geometry)
        lamp = self._lamp_at(height, width)
        return Pipeline(detector, self.geometry, prior, quiet_ns=self._quiet_ns, lamp=lamp)

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

    def _with_clock_sigma(self, passages: list[Passage]) -> list[Passage]:
        """Add what a fitted clock is off as a whole; the tracker knows of single frames' times."""
        if self._clock is None or not self._clock.steady:
            return passages
        own = self._clock.sigma_ns
        return [replace(p, sigma_ns=round(float(np.hypot(p.sigma_ns, own)))) for p in passages]

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
