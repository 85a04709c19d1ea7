"""The look at a recording: clip in, findings out."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from viscount._version import __version__
from viscount.checking.causes import parted
from viscount.checking.examined import Examined
from viscount.checking.finding import Finding, doubt, note
from viscount.checking.on_clock import ClockEvidence, clock_figures, clock_findings
from viscount.checking.on_count import count_findings
from viscount.checking.on_light import light_evidence, light_figures, light_findings
from viscount.checking.on_motion import (
    large_rows,
    motion_evidence,
    motion_figures,
    motion_findings,
    readout_figures,
    readout_findings,
)
from viscount.checking.on_picture import picture_evidence, picture_figures, picture_findings
from viscount.checking.on_scene import scene_evidence, scene_findings, steadiness_figures
from viscount.checking.regions import Regions
from viscount.checking.repeats import Repeats
from viscount.checking.scenery import Scenery
from viscount.checking.tears import Tears
from viscount.checking.witness import Witness
from viscount.codes import Code
from viscount.devices.cameras.clocked import Clocked
from viscount.devices.cameras.playback import PlaybackCamera
from viscount.devices.cameras.source import open_source
from viscount.devices.cameras.stills import StillsCamera
from viscount.devices.cameras.watcher import Watcher
from viscount.errors import DetectorFailedError, OutletError
from viscount.hooks.loading import load_plugins
from viscount.hooks.registry import Registry
from viscount.measure.frame_clock import FrameClock
from viscount.measure.slowness import slowness
from viscount.motion.prior import geometry_of, motion_prior
from viscount.outlet import (
    MotionKind,
    Outlet,
    Readout,
    in_file,
    lamp_in_picture,
    marked_outlet,
    outlet_with,
)
from viscount.pipeline import PRIMING_FRAMES, Pipeline
from viscount.tally import FileMark
from viscount.values import Frame, Level, Notice, Passage

_OF_PATHS = frozenset({Code.PATHS_UNLIKELY, Code.SIGHTINGS_LEFT_OVER, Code.SPEED_AMBIGUOUS})


def check(
    source: str | Path,
    *,
    outlet: str | Path | Outlet | None = None,
    settings: Sequence[str] = (),
    registry: Registry | None = None,
    watcher: Watcher | None = None,
    threads: int | None = None,
) -> Examined:
    """Look at a recording for what would spoil a count.

    The frames stream through: numbers are kept of them, no pictures but the opening.

    Parameters
    ----------
    source : a clip of any container, a folder of pictures, or a picture file.
    outlet : outlet file or loaded outlet.
    settings : ``key=value`` texts that stand over the outlet file.
    registry : loaded plugins; None loads those that are installed.
    watcher : is shown each frame.
    threads : decoder threads; None leaves the choice to the decoder.

    Raises
    ------
    viscount.errors.ViscountError : for input that cannot be read or does not fit.
    """
    loaded, mark = marked_outlet(outlet)
    chosen, _ = outlet_with(loaded, settings)
    look = _Look(chosen, mark, registry or load_plugins(), watcher)
    rate = chosen.camera.capture_fps
    with open_source(source, capture_fps=rate, threads=threads, ahead=True) as camera:
        look.through(camera)
        return look.examined(camera)


class _Look:
    """One look, from the first frame to the findings."""

    def __init__(
        self,
        outlet: Outlet,
        mark: FileMark | None,
        registry: Registry,
        watcher: Watcher | None,
    ) -> None:
        self._outlet = outlet
        self._mark = mark
        self._registry = registry
        self._watcher = watcher
        self._clock: FrameClock | None = None
        self._passages: list[Passage] = []
        self._notices: list[Notice] = []
        self._repeats = Repeats()
        self._tears = Tears()

    def through(self, camera: PlaybackCamera | StillsCamera) -> None:
        """Look at the whole recording."""
        clocked = Clocked(camera)
        self._clock = clocked.clock
        opening, frames = clocked.opened(PRIMING_FRAMES)
        self._first_ns = opening[0].t_ns
        self._prepare(opening)
        if self._watcher is not None:
            self._watcher.start(self._outlet, self._geometry.line_px, clocked.known_frames)
        try:
            for frame in frames:
                self._add(frame)
        except DetectorFailedError as error:
            self._notices.append(
                Notice(level=Level.INVALID, code=Code.DETECTOR_FAILED, text=str(error))
            )
        self._passages += self._pipeline.finish()
        self._passages.sort(key=lambda p: (p.t_ns, p.id))
        self._notices += self._pipeline.notices

    def _prepare(self, opening: list[Frame]) -> None:
        try:
            geometry = geometry_of(self._outlet, *opening[0].pixels.shape)
        except OutletError as error:
            raise in_file(error, self._mark) from error
        sigma_frame_s = 0.0 if self._clock is None else self._clock.sigma_frame_s
        self._geometry = replace(geometry, sigma_frame_s=sigma_frame_s)
        where = self._mark.name if self._mark is not None else ""
        detector = self._registry.detector_for(self._outlet, where=where)
        self._prior = motion_prior(self._outlet, self._geometry)
        self._witness = Witness(detector)
        self._pipeline = Pipeline(self._witness, self._geometry, self._prior)
        self._pipeline.prime(opening)
        self._scenery = Scenery(self._witness.opening)
        lamp = lamp_in_picture(self._outlet, *opening[0].pixels.shape)
        self._regions = Regions(self._scenery.level, self._geometry, lamp)
        self._witness.opening.clear()

    def _add(self, frame: Frame) -> None:
        self._passages += self._pipeline.feed(frame)
        taken = self._witness.take()
        if taken is None:
            self._repeats.skipped(frame)
        else:
            cut, seen = taken
            light = self._scenery.add(cut)
            self._regions.add(cut, seen, light)
            self._repeats.add(cut, seen)
            self._tears.add(cut, seen)
        if self._watcher is not None:
            self._watcher.frame(frame)

    def examined(self, camera: PlaybackCamera | StillsCamera) -> Examined:
        """Return what the look comes to."""
        report, model, settings = camera.report(), self._pipeline.model, self._outlet.camera
        rolling = settings.line_time_us and settings.readout is not Readout.GLOBAL
        line_time_s = 1e-6 * (settings.line_time_us or 0.0) if rolling else None
        light = light_evidence(self._scenery, report.rate_hz, line_time_s)
        met = ClockEvidence(
            report=report,
            clock=self._clock,
            repeated_with_parts=self._repeats.found(),
            torn=self._torn(),
            capture_given=settings.capture_fps is not None,
            exposure_varies=light is not None and light.course.made_up_for,
        )
        banded = light is not None and light.flicker is not None and light.flicker.bands is not None
        scene = scene_evidence(self._scenery, banded=banded)
        motion = motion_evidence(
            self._passages,
            self._regions,
            self._geometry,
            model,
            self._prior,
            interval_s=None if report.rate_hz is None else 1.0 / report.rate_hz,
            frames=report.read,
        )
        picture = picture_evidence(self._regions, scene.noise, motion, model, self._first_ns)
        known = settings.line_time_us if settings.readout is not None else None
        readout = readout_figures(motion, line_time_us=known)
        measured = [
            *clock_findings(met),
            *light_findings(light),
            *scene_findings(scene),
            *picture_findings(picture),
            *readout_findings(readout),
            *motion_findings(motion),
            *self._slowed(),
        ]
        counted = count_findings(
            self._notices,
            anything=bool(self._passages),
            at_rest=motion.keeps_place,
            said=measured,
        )
        findings, notes = parted([*measured, *counted])
        return Examined(
            made_by=f"viscount {__version__}",
            source=str(camera.path),
            outlet=self._mark,
            findings=findings,
            notes=notes,
            clock=clock_figures(met),
            light=light_figures(light),
            picture=picture_figures(picture),
            steadiness=steadiness_figures(scene),
            motion=motion_figures(motion),
            readout=readout,
        )

    def _torn(self) -> tuple[int, ...]:
        """Return the frames with parts in either half of which one half is old."""
        found = self._tears.found
        return tuple(found["frame"][large_rows(self._regions, found)].astype(int).tolist())

    def _slowed(self) -> Iterator[Finding]:
        """Say whether gravity contradicts the file's clock."""
        model, scale = self._pipeline.model, self._outlet.view.scale_px_per_mm
        falls = self._outlet.motion.kind is MotionKind.FREE_FALL
        if model is None or not model.learned or not falls or scale is None:
            return
        found = slowness(model.acceleration, scale)
        if found is not None:
            # Where paths are in doubt, so is the acceleration that they taught.
            say = note if any(one.code in _OF_PATHS for one in self._notices) else doubt
            expected = "9.81 m/s2, as in every free fall"
            yield say(Code.CAPTURE_RATE_SLOWED, found.notice().text, expected)
