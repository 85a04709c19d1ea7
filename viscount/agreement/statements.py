"""What a result rests on that nobody stated: lines, speeds, clocks taken for granted."""

from collections.abc import Iterable, Mapping, Sequence

from viscount.codes import Code
from viscount.outlet import MotionKind, Outlet
from viscount.tally import Assumption, Reason
from viscount.values import Level, Notice


def assumptions(
    outlet: Outlet,
    given: Mapping[str, object],
    *,
    line_px: float,
    speed_px_s: float | None,
    acceleration_px_s2: float | None,
    rate_hz: float | None,
) -> tuple[Assumption, ...]:
    """Return what was taken for granted.

    Parameters
    ----------
    outlet : the settings in force.
    given : settings of the command line, by key.
    line_px : where the line was.
    speed_px_s, acceleration_px_s2 : what the clip taught; None where it taught nothing.
    rate_hz : the file's own rate, or None.
    """
    view, motion, camera = outlet.view, outlet.motion, outlet.camera
    made: list[Assumption] = []
    if view.line_px is None:
        made.append(_assumed(Code.LINE_ASSUMED, line_px, "px"))
    if view.falls is None:
        made.append(_assumed(Code.FALLS_ASSUMED, outlet.falls.value))
    if motion.kind is None:
        made.append(_assumed(Code.MOTION_ASSUMED))
    if camera.capture_fps is None:
        made.append(_assumed(Code.CLOCK_ASSUMED, rate_hz, "Hz"))
    if camera.readout is None:
        made.append(_assumed(Code.READOUT_ASSUMED))
    if speed_px_s is not None:
        made.append(_assumed(Code.SPEED_LEARNED, speed_px_s, "px/s"))
    if acceleration_px_s2 is not None and motion.kind is not MotionKind.BELT:
        made.append(_assumed(Code.ACCELERATION_LEARNED, acceleration_px_s2, "px/s²"))
    for key, value in given.items():
        said = Code.SETTING_FROM_COMMAND_LINE
        text = f"{key} was given on the command line and stands over the outlet file"
        plain = value if isinstance(value, float | int | str) else str(value)
        made.append(Assumption(code=said, text=text, value=plain))
    return tuple(made)


def notes(notices: Iterable[Notice]) -> tuple[Reason, ...]:
    """Return what is worth knowing and takes nothing from the count."""
    return tuple(Reason(code=n.code, text=n.text) for n in notices if n.level is Level.INFO)


def counted_at(outlet: Outlet, line_px: float) -> str:
    """Return where the line is: "above_blade", "below_blade" or "unknown"."""
    gate, view = outlet.gate, outlet.view
    if gate is None:
        return "unknown"
    blade = gate.at_px
    if blade is None:
        if gate.below_lip_mm is None or view.lip_px is None or view.scale_px_per_mm is None:
            return "unknown"
        blade = view.lip_px + outlet.falls.sign * gate.below_lip_mm * view.scale_px_per_mm
    below = outlet.falls.sign * (line_px - blade) > 0
    return "below_blade" if below else "above_blade"


def nothing_seen(detectable_grey: float | None) -> str:
    """Return in words that nothing moved, and how faint that may have been, as far as is known."""
    found = Code.NOTHING_SEEN.meaning
    if detectable_grey is None:
        return found
    least = f"less than {detectable_grey:.0f} grey from their background"
    return f"{found}; parts {least} are too faint to be seen"


def without_times(reasons: Sequence[Reason], slowed: Notice | None) -> tuple[Reason, ...]:
    """Add to the reasons that times are refused; the count itself stands."""
    if slowed is None:
        return tuple(reasons)
    return (*reasons, Reason(code=slowed.code, text=slowed.text))


def _assumed(code: Code, value: float | str | None = None, unit: str | None = None) -> Assumption:
    return Assumption(code=code, text=code.meaning, value=value, unit=unit)
