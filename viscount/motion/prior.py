"""What an outlet file says of view and motion, turned into px and s."""

import math

from viscount import fall
from viscount.motion.geometry import Geometry
from viscount.motion.pieces import LENGTH_TOLERANCE
from viscount.motion.single import Single, Span
from viscount.motion.speed import MotionPrior
from viscount.outlet import (
    MotionKind,
    Outlet,
    Part,
    Readout,
    Shape,
    line_in_picture,
    region_in_picture,
)
from viscount.outlet.taught import Measured
from viscount.values import Falls

DEFAULT_TOLERANCE_PERCENT = 10.0


def geometry_of(outlet: Outlet, height: int, width: int) -> Geometry:
    """Return line, view and readout in a picture of this size.

    Raises
    ------
    viscount.errors.OutletError : line or region lie outside the picture.
    """
    camera = outlet.camera
    rolling = camera.line_time_us and camera.readout not in (None, Readout.GLOBAL)
    return Geometry(
        falls=outlet.falls,
        line_px=line_in_picture(outlet, height, width),
        view=region_in_picture(outlet, height, width),
        picture=(height, width),
        line_time_s=1e-6 * (camera.line_time_us or 0.0) if rolling else 0.0,
        readout=Falls(camera.readout.value) if rolling and camera.readout else Falls.DOWN,
    )


def motion_prior(outlet: Outlet, geometry: Geometry) -> MotionPrior:
    """Return what the outlet file says of speed and acceleration at the line."""
    scale = outlet.view.scale_px_per_mm
    acceleration = _acceleration(outlet, scale)
    tolerance = outlet.motion.speed_tolerance_percent
    return MotionPrior(
        acceleration_px_s2=acceleration,
        # px/s² are sure only where the file's clock is known to be the capture's.
        sure=outlet.motion.kind is MotionKind.BELT or outlet.camera.capture_fps is not None,
        speed_px_s=_speed_at_line(outlet, geometry, scale, acceleration),
        least_speed_px_s=_least_speed(outlet, geometry, acceleration),
        speed_tolerance=(DEFAULT_TOLERANCE_PERCENT if tolerance is None else tolerance) / 100.0,
        part_length_px=_part_length(outlet, scale),
        part_area_px=_part_area(outlet, scale),
        exposure_s=1e-6 * (outlet.camera.exposure_us or 0.0),
        falling=outlet.motion.kind is MotionKind.FREE_FALL,
        line_time_along_s=geometry.line_time_along_s,
        single=_single(outlet.part, scale),
        longest_px=_longest(outlet.part, scale),
    )


def _single(part: Part | None, scale: float | None) -> Single | None:
    """Return how one part looks at this scale, as taught; None where nothing was taught for it.

    What was taught at an unknown scale holds in px, where the scale is unknown still; what was
    taught in mm says nothing in a picture without a scale.
    """
    taught = None if part is None else part.taught
    if taught is None or (taught.scale_px_per_mm is None) != (scale is None):
        return None
    factor = 1.0 if scale is None else scale
    coarse = 1.0 if taught.scale_px_per_mm is None else factor / taught.scale_px_per_mm
    return Single(
        length=_span(taught.length, factor),
        area=_span(taught.area, factor**2),
        gyration=_span(taught.gyration, factor),
        smear_px=factor * (taught.smear or 0.0),
        coarse_px=coarse,
        scale_px_per_mm=scale,
    )


def _span(measured: Measured, factor: float) -> Span:
    return Span(
        low=factor * measured.p05, usual=factor * measured.median, high=factor * measured.p95
    )


def _part_length(outlet: Outlet, scale: float | None) -> float | None:
    """Return a part's length along the fall: as taught where all are alike, else as stated.

    Where taught parts turn as they fall, their length does not tell one part's pieces from a
    pair of parts.
    """
    single = _single(outlet.part, scale)
    if single is not None:
        length = single.length
        low, high = (1.0 - LENGTH_TOLERANCE), (1.0 + LENGTH_TOLERANCE)
        if low * length.usual <= length.low and length.high <= high * length.usual:
            return length.usual
    if outlet.part is None or outlet.part.along_fall_mm is None or scale is None:
        return None
    return outlet.part.along_fall_mm * scale


def _longest(part: Part | None, scale: float | None) -> float | None:
    """Return the diagonal of the stated sizes; None where they do not tell it."""
    if part is None or scale is None or part.diameter_mm is None:
        return None
    axial, across = part.overall_length_mm, part.diameter_mm
    if part.shape in (Shape.NUT, Shape.WASHER):
        axial = part.thickness_mm if axial is None else axial
    if part.shape is Shape.BALL:
        axial = 0.0
    if axial is None:
        return None
    # A head or a nut may be a hexagon; its corners reach farther than its flats.
    corners = 1.0 if part.shape in (Shape.WASHER, Shape.BALL) else 2 / math.sqrt(3)
    return math.hypot(axial, corners * across) * scale


def _part_area(outlet: Outlet, scale: float | None) -> float | None:
    """Return the largest area of a part's outline; None where not known.

    As taught, without what the exposure added; else of the stated sizes, however they are turned.
    """
    single = _single(outlet.part, scale)
    if single is not None:
        return single.area.high * (1.0 - single.smear_px / single.length.usual)
    return _stated_area(outlet.part, scale)


def _stated_area(part: Part | None, scale: float | None) -> float | None:
    """Return the largest area of the stated sizes, however the part is turned.

    A convex prism seen askew shows its face and its side, foreshortened: together no more than
    the root of the sum of their squares.
    """
    if part is None or scale is None or part.diameter_mm is None:
        return None
    across, thick = part.diameter_mm, part.thickness_mm
    if part.shape is Shape.BALL:
        area = math.pi / 4 * across**2
    elif part.shape is Shape.SCREW and part.overall_length_mm is not None:
        area = part.overall_length_mm * across
    elif part.shape is Shape.WASHER and thick is not None:
        area = math.hypot(math.pi / 4 * across**2, thick * across)
    elif part.shape is Shape.NUT and thick is not None:
        corners = 2 / math.sqrt(3) * across
        area = math.hypot(math.sqrt(3) / 2 * across**2, thick * corners)
    else:
        return None
    return area * scale**2


def _acceleration(outlet: Outlet, scale: float | None) -> float | None:
    motion = outlet.motion
    if motion.kind is MotionKind.BELT:
        return 0.0
    in_mm = motion.acceleration_mm_s2
    if in_mm is None and motion.kind is MotionKind.FREE_FALL:
        in_mm = fall.STANDARD_GRAVITY_MM_S2
    return None if in_mm is None or scale is None else in_mm * scale


def _least_speed(outlet: Outlet, geometry: Geometry, acceleration: float | None) -> float | None:
    drop = _drop_px(outlet, geometry)
    if not acceleration or drop is None or drop <= 0:
        return None
    return math.sqrt(2.0 * acceleration * drop)


def _drop_px(outlet: Outlet, geometry: Geometry) -> float | None:
    """Return how far the line is below the lip; None where that is not stated."""
    if outlet.view.lip_px is None:
        return None
    return geometry.falls.sign * (geometry.line_px - outlet.view.lip_px)


def _speed_at_line(
    outlet: Outlet, geometry: Geometry, scale: float | None, acceleration: float | None
) -> float | None:
    speed = outlet.motion.speed_mm_s
    if speed is None or scale is None or acceleration is None:
        return None
    if acceleration == 0.0:
        return speed * scale
    drop = _drop_px(outlet, geometry)
    if drop is None:
        return None
    square = (speed * scale) ** 2 + 2.0 * acceleration * drop
    return math.sqrt(square) if square > 0 else None
