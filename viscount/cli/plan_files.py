"""What outlet and part files say that a plan can use."""

from collections.abc import Mapping

from viscount.errors import UsageError
from viscount.fall import STANDARD_GRAVITY_MM_S2
from viscount.outlet import MotionKind, Outlet, Part, Readout, Shape
from viscount.values import Falls


def acceleration_below_lip(outlet: Outlet) -> float:
    """Return it in mm/s²: gravity's where nothing else is said."""
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


def from_outlet(outlet: Outlet) -> Mapping[str, object]:
    """Return what an outlet file says, by the names of a plan's options."""
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
        "view_mm": _view_mm(outlet),
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


def _view_mm(outlet: Outlet) -> tuple[float, float] | None:
    """Return the region that is looked at, from its upper end to its lower one."""
    region = outlet.view.region_px
    if region is None:
        return None
    first, last = (region[1], region[3]) if outlet.falls.vertical else (region[0], region[2])
    # Places count from the centre of the first pixel; the region reaches to its pixels' edges.
    ends = [_below_lip(outlet, edge - 0.5) for edge in (first, last)]
    if ends[0] is None or ends[1] is None:
        return None
    return min(ends[0], ends[1]), max(ends[0], ends[1])


def from_part(part: Part) -> Mapping[str, object]:
    """Return what a part file says, by the names of a plan's options.

    The size along the fall is not guessed from the others: only a ball has but one.
    """
    length = part.along_fall_mm
    if length is None and part.shape is Shape.BALL:
        length = part.diameter_mm or part.overall_length_mm
    return {"length_mm": length, "pitch_mm": part.stack_pitch_mm}
