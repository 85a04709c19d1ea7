"""From options and files to what `viscount.plan` works on."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from viscount.cli.plan_files import acceleration_below_lip, from_outlet, from_part
from viscount.errors import UsageError
from viscount.fall import STANDARD_GRAVITY_MM_S2
from viscount.outlet import Outlet, load_outlet, load_part
from viscount.plan import Answer, Beam, Coil, Drop, Gate, Magazine, Shot, Steady, answer

_RANGES = {
    "pitch_mm": (0.001, 1000.0),
    "acceleration_mm_s2": (0.1, 20_000.0),
    "interval_ms": (0.001, 1e6),
    "rate_per_s": (0.001, 1e6),
    "lip_speed_mm_s": (0.0, 100_000.0),
    "length_mm": (0.001, 1000.0),
    "line_mm": (0.0, 10_000.0),
    "beam_mm": (0.0, 10_000.0),
    "blade_mm": (0.0, 10_000.0),
    "fps": (0.001, 100_000.0),
    "exposure_us": (0.001, 1e6),
    "line_time_us": (0.0, 10_000.0),
    "scale_px_per_mm": (0.001, 1000.0),
    "beam_width_mm": (0.001, 1000.0),
    "beam_threshold_percent": (1.0, 99.0),
    "beam_response_us": (0.0, 1e6),
}
"""From where to where numbers make sense; wide, and free of anything that is no number."""

_THRESHOLD_PERCENT = 50.0
_VIEW_MM = (-10_000.0, 10_000.0)
_GATE_MS = (0.0, 60_000.0)
_COIL = {"ohm": (0.01, 1e5), "mH": (0.001, 1e5), "V": (0.1, 1000.0)}
_GRAVITY_ROOM = 1.01
"""A column in free fall may be given with another place's g than the fall below it."""

_MISSING = {
    "line_mm": "the counting line: --line-mm",
    "beam_mm": "the beam: --beam-mm",
    "blade_mm": "the blade: --blade-mm",
    "view_mm": "what the camera sees: --view-mm",
    "fps": "the frame rate: --fps",
    "exposure_us": "the exposure: --exposure-us",
    "line_time_us": "the line time: --line-time-us",
    "scale_px_per_mm": "the scale: --scale-px-per-mm",
    "beam_width_mm": "the beam's width: --beam-width-mm",
    "beam_response_us": "the response time of the beam's sensor: --beam-response-us",
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
    beam_threshold_percent: float | None = None
    beam_response_us: float | None = None
    reach_ms: tuple[float, float] | None = None
    shut_ms: tuple[float, float] | None = None
    coil: tuple[float, float, float] | None = None
    fall_mm_s2: float = STANDARD_GRAVITY_MM_S2

    def get(self, name: str) -> object:
        """Return a field by its name."""
        return getattr(self, name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """The answer, what it was worked out from, what was missing for more, and what to mind."""

    given: Given
    answer: Answer
    coil: Coil | None
    missing: tuple[str, ...]
    notes: tuple[str, ...]


def planned(given: Given, *, outlet: Path | None, part: Path | None) -> Planned:
    """Work out the plan.

    Raises
    ------
    viscount.errors.ViscountError
        Where a file cannot be used, a number makes no sense, or too little is known.
    """
    known = _with_files(given, outlet, part)
    _require_sense(known, given)
    places = {"lip": 0.0}
    for name in ("line", "beam", "blade"):
        height = known.get(f"{name}_mm")
        if isinstance(height, float):
            places[name] = height
    places = dict(sorted(places.items(), key=lambda place: place[1]))
    found = answer(
        stream=_stream(known, given),
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
        beam=_beam(known),
        gate=_gate(known),
    )
    missing = [text for name, text in _MISSING.items() if known.get(name) is None]
    return Planned(
        given=known,
        answer=found,
        coil=_coil(known),
        missing=(*missing, *_no_cut(known, found)),
        notes=tuple(_notes(known)),
    )


def _notes(known: Given) -> Iterator[str]:
    if known.beam_mm is not None and known.beam_threshold_percent is None:
        yield (
            f"the beam is taken to switch when {_THRESHOLD_PERCENT:g} % of its light is lost; "
            "--beam-threshold-percent says otherwise"
        )
    length, pitch = known.length_mm, known.pitch_mm
    if known.count is not None and length and pitch and length > pitch:
        yield (
            f"parts of {length:g} mm along the fall in a column with a pitch of {pitch:g} mm lie "
            "in one another, and can hardly be told apart until the fall has drawn them out: is "
            "the length their size along the fall, as they leave?"
        )


def _stream(known: Given, given: Given) -> Magazine | Steady:
    ways = [known.count, known.interval_ms, known.rate_per_s]
    found = sum(way is not None for way in ways)
    if found != 1:
        raise UsageError(
            "several ways in which parts leave" if found else "no way in which parts leave",
            allowed="one of --count (a column), --interval-ms and --rate-per-s",
        )
    if known.count is None:
        return _steady(known, given)
    if given.lip_speed_mm_s is not None:
        raise UsageError("--lip-speed-mm-s with a column, which brings its own speed")
    acceleration = _needed(
        known.acceleration_mm_s2, "the column's acceleration", "--acceleration-mm-s2"
    )
    if acceleration > _GRAVITY_ROOM * known.fall_mm_s2:
        raise UsageError(
            f"a column that slides with {acceleration:g} mm/s², and then falls with "
            f"{known.fall_mm_s2:g}: its parts would run into each other",
            where="--acceleration-mm-s2",
            allowed="at most the acceleration below the lip",
        )
    return Magazine(
        count=known.count,
        pitch_mm=_needed(known.pitch_mm, "the column's pitch", "--pitch-mm"),
        acceleration_mm_s2=acceleration,
    )


def _steady(known: Given, given: Given) -> Steady:
    for option, value in (
        ("pitch-mm", given.pitch_mm),
        ("acceleration-mm-s2", given.acceleration_mm_s2),
    ):
        if value is not None:
            raise UsageError(f"--{option} without a column", remedy="give --count, or leave it out")
    speed = _needed(
        known.lip_speed_mm_s, "the speed at the lip", "--lip-speed-mm-s, 0 where parts start there"
    )
    if not speed and not known.fall_mm_s2:
        raise UsageError("a belt that stands", where="--lip-speed-mm-s", allowed="more than 0")
    interval_s = 1 / known.rate_per_s if known.rate_per_s else (known.interval_ms or 0.0) * 1e-3
    return Steady(interval_s=interval_s, lip_mm_s=speed)


def _beam(known: Given) -> Beam:
    response_us, percent = known.beam_response_us, known.beam_threshold_percent
    return Beam(
        width_mm=known.beam_width_mm,
        threshold=(_THRESHOLD_PERCENT if percent is None else percent) / 100,
        response_s=None if response_us is None else response_us * 1e-6,
    )


def _no_cut(known: Given, found: Answer) -> list[str]:
    """Say why there is no cut although beam and blade are known."""
    if found.cuts or known.beam_mm is None or known.blade_mm is None:
        return []
    if known.blade_mm <= known.beam_mm:
        return ["when to cut: the beam must be above the blade to tell"]
    return ["when to cut: at the beam, heads are seen before the parts are let go"]


def _gate(known: Given) -> Gate | None:
    if (known.reach_ms is None) is not (known.shut_ms is None):
        raise UsageError("only one of --reach-ms and --shut-ms", remedy="give both")
    if known.reach_ms is None or known.shut_ms is None:
        return None
    for name, (low, high) in (("--reach-ms", known.reach_ms), ("--shut-ms", known.shut_ms)):
        if not _GATE_MS[0] <= low <= high <= _GATE_MS[1]:
            raise UsageError(
                f"{name} {low:g} {high:g}",
                allowed=f"the least, then the greatest; {_GATE_MS[0]:g} to {_GATE_MS[1]:g}",
            )
    (least, most), (soon, late) = known.reach_ms, known.shut_ms
    if soon < least or late < most:
        raise UsageError(
            f"--shut-ms {soon:g} {late:g} before --reach-ms {least:g} {most:g}",
            allowed="a stream that is closed once the blade has entered it",
        )
    return Gate(reach_s=(least * 1e-3, most * 1e-3), shut_s=(soon * 1e-3, late * 1e-3))


def _coil(known: Given) -> Coil | None:
    if known.coil is None:
        return None
    for value, (unit, (least, most)) in zip(known.coil, _COIL.items(), strict=True):
        if not least <= value <= most:
            raise UsageError(
                f"a coil of {value:g} {unit}", where="--coil", allowed=f"{least:g} to {most:g}"
            )
    ohm, millihenry, volt = known.coil
    return Coil(resistance_ohm=ohm, inductance_h=millihenry * 1e-3, supply_v=volt)


def _needed(value: float | None, what: str, option: str) -> float:
    if value is None:
        raise UsageError(f"{what} is not known", remedy=f"give {option}")
    return value


def _require_sense(known: Given, given: Given) -> None:
    """Refuse numbers that make no sense; what `given` does not hold came from a file."""
    for name, (least, most) in _RANGES.items():
        value = known.get(name)
        if isinstance(value, float) and not least <= value <= most:
            own = given.get(name) is not None
            raise UsageError(
                f"{value:g}",
                where="--" + name.replace("_", "-") if own else f"{name}, from the files",
                allowed=f"{least:g} to {most:g}",
            )
    view = known.view_mm
    if view is not None and not _VIEW_MM[0] <= view[0] < view[1] <= _VIEW_MM[1]:
        raise UsageError(
            f"a view from {view[0]:g} to {view[1]:g} mm",
            where="--view-mm",
            allowed=f"the upper end, then the lower one; {_VIEW_MM[0]:g} to {_VIEW_MM[1]:g}",
        )
    if known.fps is not None and known.exposure_us is not None:
        frame_us = 1e6 / known.fps
        if known.exposure_us > 1.01 * frame_us:
            raise UsageError(
                f"an exposure of {known.exposure_us:g} µs, with a frame every {frame_us:.4g} µs",
                allowed="at most the time between two frames",
            )


def _with_files(given: Given, outlet_file: Path | None, part_file: Path | None) -> Given:
    """Fill in what the files say and no option gives."""
    outlet = load_outlet(outlet_file) if outlet_file else Outlet()
    part = load_part(part_file) if part_file else outlet.part
    said = {**from_outlet(outlet), **(from_part(part) if part else {})}
    own = {name: given.get(name) for name in Given.__dataclass_fields__}
    filled = {
        name: said.get(name) if value is None else value
        for name, value in own.items()
        if name != "fall_mm_s2"
    }
    if filled["count"] is not None:
        filled["lip_speed_mm_s"] = given.lip_speed_mm_s
    else:
        filled["pitch_mm"] = given.pitch_mm
    return Given(**filled, fall_mm_s2=acceleration_below_lip(outlet))  # type: ignore[arg-type]
