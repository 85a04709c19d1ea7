"""The run that teaches: clips of single parts in, a part with what they taught out."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from pydantic import ValidationError

from viscount._version import __version__
from viscount.beam.pulses import DEFAULT_MIN_PULSE_NS, PulseMaker
from viscount.beam.record import BeamRecord
from viscount.devices.beams.log import BeamLog
from viscount.devices.cameras.clocked import Clocked
from viscount.devices.cameras.source import open_source
from viscount.errors import OutletError, TeachingError, UsageError
from viscount.hooks.loading import load_plugins
from viscount.hooks.registry import Registry
from viscount.motion.prior import geometry_of, motion_prior
from viscount.outlet import (
    Outlet,
    Part,
    in_file,
    lamp_in_picture,
    marked_outlet,
    marked_part,
    outlet_with,
)
from viscount.pipeline import PRIMING_FRAMES
from viscount.tally import FileMark
from viscount.teaching.by_beam import at_beam, beam_at_px
from viscount.teaching.lesson import Followed, Lesson
from viscount.teaching.making import teaching
from viscount.teaching.refusing import require_singles
from viscount.values import Level, Notice, Pulse


@dataclass(frozen=True, slots=True, kw_only=True)
class TaughtPart:
    """A part with what was taught of it.

    Attributes
    ----------
    part : the base with its name and what was taught; as a part file holds it.
    clips : each clip's name with how many parts it shows.
    warnings : what is worth knowing.
    """

    made_by: str
    part: Part
    clips: tuple[tuple[str, int], ...]
    warnings: tuple[Notice, ...]


def teach(
    clips: Sequence[str | Path],
    *,
    outlet: str | Path | Outlet | None = None,
    beams: Sequence[str | Path] = (),
    base: str | Path | Part | None = None,
    name: str | None = None,
    count: int | None = None,
    settings: Sequence[str] = (),
    registry: Registry | None = None,
    heard: Callable[[str], None] | None = None,
) -> TaughtPart:
    """Learn what one part looks like from clips of parts that were dropped one by one.

    Parameters
    ----------
    clips : of single parts, all of one kind; `LEAST_SINGLES` or more in all.
    outlet : outlet file or loaded outlet that they fell past.
    beams : the beam's log of each clip, in the same order; none where there is no beam.
    base : part file or loaded part whose other keys are kept.
    name : of the part; None keeps the base's.
    count : how many parts were dropped in all.
    settings : ``key=value`` texts that stand over the outlet file.
    registry : loaded plugins; None loads those that are installed.
    heard : is told the name of each clip before it is followed.

    Raises
    ------
    viscount.errors.ViscountError : for input that cannot be read, does not fit or cannot teach.
    """
    if not clips:
        raise UsageError("no clip", allowed="one clip of single parts, or several")
    if beams and len(beams) != len(clips):
        raise UsageError(
            f"{len(beams)} beam logs for {len(clips)} clips",
            where="--beam",
            allowed="one log for each clip, in the same order",
        )
    machine, mark = marked_outlet(outlet)
    machine, _ = outlet_with(machine, settings)
    known, _ = marked_part(base)
    part = _named(known, name)
    # What an earlier lesson taught must not judge this one.
    blank = part.model_copy(update={"taught": None})
    machine = machine.model_copy(update={"part": blank})
    run = _Run(machine, mark, registry or load_plugins(), heard)
    at_px = run.beam_place() if beams else 0.0
    logs = [_read(path, machine) for path in beams]
    lessons = run.lessons(clips, count)
    require_singles(lessons, count)
    own = [at_beam(a, *b, at_px, str(c)) for a, b, c in zip(lessons, logs, beams, strict=False)]
    found = teaching(lessons, own if beams else None, machine.view.scale_px_per_mm)
    return TaughtPart(
        made_by=f"viscount {__version__}",
        part=Part.model_validate(
            {**part.model_dump(exclude_unset=True, exclude={"taught"}), "taught": found.taught}
        ),
        clips=tuple((one.name, one.result.count) for one in lessons),
        warnings=found.warnings,
    )


def _named(base: Part | None, name: str | None) -> Part:
    """Return the base under its name; raises UsageError for a name that cannot be one."""
    part = base or Part()
    name = part.name if name is None else name
    allowed = "the name of the part in documents, such as 'M4x12 screw', on one line"
    if name is None:
        raise UsageError("a part without a name", where="--name", allowed=allowed)
    try:
        return Part.model_validate({**part.model_dump(exclude_unset=True), "name": name})
    except ValidationError:
        raise UsageError(f"the name {name!r}", where="--name", allowed=allowed) from None


def _read(path: str | Path, outlet: Outlet) -> tuple[list[Pulse], BeamRecord]:
    """Return the pulses of a beam's log, and what there is to say beside them."""
    log = BeamLog(path)
    least_us = None if outlet.beam is None else outlet.beam.min_pulse_us
    least_ns = DEFAULT_MIN_PULSE_NS if least_us is None else round(1e3 * least_us)
    maker = PulseMaker(min_pulse_ns=least_ns)
    pulses = [pulse for edge in log.edges() for pulse in maker.feed(edge)]
    pulses += maker.finish(log.end_device_t_ns)
    doubted = [notice for notice in log.notices if notice.level is not Level.INFO]
    if doubted:
        raise TeachingError(doubted[0].text, where=str(path), remedy=doubted[0].code.remedy)
    return pulses, maker.record


class _Run:
    """Follows clip after clip under one outlet."""

    def __init__(
        self,
        outlet: Outlet,
        mark: FileMark | None,
        registry: Registry,
        heard: Callable[[str], None] | None,
    ) -> None:
        self._outlet = outlet
        self._mark = mark
        self._registry = registry
        self._heard = heard

    def lessons(self, clips: Sequence[str | Path], count: int | None) -> list[Lesson]:
        """Follow all clips; twice where parts are seen in pieces, and their number says so.

        The pairs of regions that move as one body are one part each where there are as many
        parts as were dropped if they are; their length is then the part's.
        """
        lessons = [self._lesson(clip, None) for clip in clips]
        pairs = [length for one in lessons for length in one.pairs]
        if count is None or not any(one.in_pieces for one in lessons):
            return lessons
        if sum(one.result.count for one in lessons) - len(pairs) != count:
            return lessons
        length = float(np.median(pairs))
        return [self._lesson(clip, length) for clip in clips]

    def beam_place(self) -> float:
        """Return where the beam is, in px; raises UsageError where the outlet does not say."""
        at_px = beam_at_px(self._outlet)
        if at_px is None:
            raise UsageError(
                "the place of the beam is not known",
                where="beam" if self._mark is None else f"{self._mark.name}: beam",
                allowed="beam.at_px; or beam.below_lip_mm with view.lip_px and "
                "view.scale_px_per_mm",
                remedy="set it in the outlet file: pulses become lengths by the speed there",
            )
        return at_px

    def _lesson(self, clip: str | Path, piece_length_px: float | None) -> Lesson:
        if self._heard is not None:
            self._heard(str(clip))
        outlet, mark = self._outlet, self._mark
        with open_source(clip, capture_fps=outlet.camera.capture_fps, ahead=True) as camera:
            clocked = Clocked(camera)
            opening, frames = clocked.opened(PRIMING_FRAMES)
            try:
                geometry = geometry_of(outlet, *opening[0].pixels.shape)
                lamp = lamp_in_picture(outlet, *opening[0].pixels.shape)
            except OutletError as error:
                raise in_file(error, mark) from error
            sigma_s = 0.0 if clocked.clock is None else clocked.clock.sigma_frame_s
            geometry = replace(geometry, sigma_frame_s=sigma_s)
            detector = self._registry.detector_for(outlet, where=mark.name if mark else "")
            run = Followed(
                detector,
                geometry,
                motion_prior(outlet, geometry),
                piece_length_px=piece_length_px,
                lamp=lamp,
            )
            first_ns = opening[0].t_ns
            run.prime(opening)
            for frame in frames:
                run.feed(frame)
            return run.finish(str(clip), first_ns, camera.notices)
