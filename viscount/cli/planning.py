"""From options and files to what `viscount.plan` works on."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from viscount.errors import UsageError
from viscount.fall import STANDARD_GRAVITY_MM_S2
from viscount.outlet import MotionKind, Outlet, Part, Readout, load_outlet, load_part
from viscount.plan import Answer, Drop, Gate, Magazine, Shot, Steady, answer
from viscount.values import Falls

_POSITIVE = (
    "pitch_mm",
    "acceleration_mm_s2",
    "interval_ms",
    "rate_per_s",
    "length_mm",
    "fps",
    "exposure_us",
    "scale_px_per_mm",
    "beam_width_mm",
)
_NOT_NEGATIVE = ("lip_speed_mm_s", "line_mm", "beam_mm", "blade_mm", "line_time_us")
_MISSING = {
    "line_mm": "the counting line: --line-mm",
    "beam_mm": "the beam: --beam-mm",
    "blade_mm": "the blade: --blade-mm",
    "view_mm": "what the camera sees: --view-mm",
    "fps": "the frame rate: --fps",
    "exposure_us": "the exposure: --exposure-us",
    "scale_px_per_mm": "the scale: --scale-px-per-mm",
    "beam_width_mm": "the beam's width: --beam-width-mm",
    "reach_ms": "how fast the gate is: --reach-ms and --shut-ms",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What was given, by option or by file; None where it is not known."""

    count: int | None = None
    pitch_mm: float | None = None
    acceleration_mm_s2: float | None = None
    interval_ms: float | None = None
    rate_per_s: float | None = None
    lip_speed_mm_s: float | None = None
    length_mm: float | None = None
    line_mm: float | None = None
    beam_mm: float | None = None
    blade_mm: float | None = None
    view_mm: tuple[float, float] | None = None
    fps: float | None = None
    exposure_us: float | None = None
    line_time_us: float | None = None
    scale_px_per_mm: float | None = None
    beam_width_mm: float | None = None
    reach_ms: tuple[float, float] | None = None
    shut_ms: tuple[float, float] | None = None
    fall_mm_s2: float = STANDARD_GRAVITY_MM_S2

    def get(self, name: str) -> object:
        """Return a field by its name."""
        return getattr(self, name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """The answer, what it was worked out from, and what was missing for more."""

    given: Given
    answer: Answer
    missing: tuple[str, ...]


def planned(given: Given, *, outlet: Path | None, part: Path | None) -> Planned:
    """Work out the plan.

    Raises
    ------
    viscount.errors.ViscountError
        Where a file cannot be used, a number makes no sense, or too little is known.
    """
    known = _with_files(given, outlet, part)
    _require_sense(known)
    places = {"lip": 0.0}
    for name in ("line", "beam", "blade"):
        height = known.get(f"{name}_mm")
        if isinstance(height, float):
            places[name] = height
    places = dict(sorted(places.items(), key=lambda place: place[1]))
    found = answer(
        stream=_stream(known),
        drop=Drop(acceleration_mm_s2=known.fall_mm_s2),
        length_mm=_needed(known.length_mm, "the part's size along the fall", "--length-mm"),
        places_mm=places,
        shot=Shot(
            fps=known.fps,
            exposure_s=None if known.exposure_us is None else known.exposure_us * 1e-6,
            view_mm=known.view_mm,
            scale_px_per_mm=known.scale_px_per_mm,
            line_time_s=None if known.line_time_us is None else known.line_time_us * 1e-6,
        ),
        beam_width_mm=known.beam_width_mm,
        gate=_gate(known),
    )
    missing = tuple(text for name, text in _MISSING.items() if known.get(name) is None)
    return Planned(given=known, answer=found, missing=missing)


def _stream(known: Given) -> Magazine | Steady:
    column = known.count is not None
    steady = [known.interval_ms, known.rate_per_s]
    ways = column + sum(x is not None for x in steady)
    if ways != 1:
        raise UsageError(
            "no way in which parts leave" if not ways else "several ways in which parts leave",
            allowed="one of --count (a column), --interval-ms and --rate-per-s",
        )
    if known.count is not None:
        if known.lip_speed_mm_s:
            raise UsageError("--lip-speed-mm-s with a column, which brings its own speed")
        return Magazine(
            count=known.count,
            pitch_mm=_needed(known.pitch_mm, "the column's pitch", "--pitch-mm"),
            acceleration_mm_s2=_needed(
                known.acceleration_mm_s2, "the column's acceleration", "--acceleration-mm-s2"
            ),
        )
    interval_s = 1 / known.rate_per_s if known.rate_per_s else (known.interval_ms or 0.0) * 1e-3
    return Steady(interval_s=interval_s, lip_mm_s=known.lip_speed_mm_s or 0.0)


def _gate(known: Given) -> Gate | None:
    if (known.reach_ms is None) is not (known.shut_ms is None):
        raise UsageError("only one of --reach-ms and --shut-ms", remedy="give both")
    if known.reach_ms is None or known.shut_ms is None:
        return None
    for name, (low, high) in (("--reach-ms", known.reach_ms), ("--shut-ms", known.shut_ms)):
        if not 0 <= low <= high:
            raise UsageError(f"{name} {low:g} {high:g}", allowed="the least, then the greatest")
    (least, most), (soon, late) = known.reach_ms, known.shut_ms
    return Gate(reach_s=(least * 1e-3, most * 1e-3), shut_s=(soon * 1e-3, late * 1e-3))


def _needed(value: float | None, what: str, option: str) -> float:
    if value is None:
        raise UsageError(f"{what} is not known", remedy=f"give {option}")
    return value


def _require_sense(known: Given) -> None:
    for name in (*_POSITIVE, *_NOT_NEGATIVE):
        value = known.get(name)
        least = name in _NOT_NEGATIVE
        if isinstance(value, float) and not (value >= 0 if least else value > 0):
            raise UsageError(
                f"{value:g}",
                where="--" + name.replace("_", "-"),
                allowed="0 or more" if least else "more than 0",
            )
    if known.view_mm is not None and known.view_mm[1] <= known.view_mm[0]:
        raise UsageError(
            f"a view from {known.view_mm[0]:g} to {known.view_mm[1]:g} mm",
            where="--view-mm",
            allowed="the upper end, then the lower one",
        )


def _with_files(given: Given, outlet_file: Path | None, part_file: Path | None) -> Given:
    """Fill in what the files say and no option gives."""
    outlet = load_outlet(outlet_file) if outlet_file else Outlet()
    part = load_part(part_file) if part_file else outlet.part
    said = {**_from_outlet(outlet), **(_from_part(part) if part else {})}
    if given.interval_ms is not None or given.rate_per_s is not None:
        said.pop("pitch_mm", None)
    own = {name: given.get(name) for name in Given.__dataclass_fields__}
    filled = {
        name: said.get(name) if value is None else value
        for name, value in own.items()
        if name != "fall_mm_s2"
    }
    return Given(**filled, fall_mm_s2=_fall(outlet))  # type: ignore[arg-type]


def _fall(outlet: Outlet) -> float:
    motion = outlet.motion
    if motion.kind is MotionKind.BELT:
        return 0.0
    if motion.acceleration_mm_s2 is not None:
        return motion.acceleration_mm_s2
    if motion.kind is MotionKind.SLIDE:
        raise UsageError(
            "a slide whose acceleration is not known",
            where="motion.acceleration_mm_s2",
            remedy="set it in the outlet file",
        )
    return STANDARD_GRAVITY_MM_S2


def _from_outlet(outlet: Outlet) -> Mapping[str, object]:
    view, camera, falls = outlet.view, outlet.camera, outlet.falls
    along = camera.readout is not None and camera.readout is not Readout.GLOBAL
    along = along and Falls(str(camera.readout)).vertical is falls.vertical
    said: dict[str, object] = {
        "scale_px_per_mm": view.scale_px_per_mm,
        "fps": camera.capture_fps,
        "exposure_us": camera.exposure_us,
        "line_time_us": camera.line_time_us if along else 0.0 if camera.readout else None,
        "lip_speed_mm_s": outlet.motion.speed_mm_s,
        "line_mm": _below_lip(outlet, view.line_px),
    }
    if outlet.beam is not None:
        height = outlet.beam.below_lip_mm
        said["beam_mm"] = _below_lip(outlet, outlet.beam.at_px) if height is None else height
        said["beam_width_mm"] = outlet.beam.width_mm
    if outlet.gate is not None:
        height = outlet.gate.below_lip_mm
        said["blade_mm"] = _below_lip(outlet, outlet.gate.at_px) if height is None else height
    return said


def _below_lip(outlet: Outlet, at_px: float | None) -> float | None:
    view = outlet.view
    if at_px is None or view.lip_px is None or view.scale_px_per_mm is None:
        return None
    return outlet.falls.sign * (at_px - view.lip_px) / view.scale_px_per_mm


def _from_part(part: Part) -> Mapping[str, object]:
    return {
        "length_mm": part.along_fall_mm or part.overall_length_mm or part.diameter_mm,
        "pitch_mm": part.stack_pitch_mm,
    }
