"""The figures of a look at a recording. None where something could not be measured.

Field names are the keys of the JSON contract, schema ``viscount.check/1``.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockFigures:
    """Frames and their times."""

    read: int
    rate_hz: float | None
    header_rate_hz: float | None
    capture_tag_hz: float | None
    times_step_us: float | None
    steady: bool | None
    interval_spread_ms: float | None
    lost: int
    gaps: int
    repeated: int
    repeated_with_parts: int
    damaged: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LightFigures:
    """Flicker, steps and drift. Frequencies in Hz; `light_hz` holds all that explain it."""

    level_grey: float | None
    flicker_percent: float | None
    flicker_seen_hz: float | None
    light_hz: tuple[float, ...]
    light_hz_certain: bool
    rows_per_cycle: float | None
    steps_percent: tuple[float, ...]
    drift_percent_per_s: float | None
    drift_percent: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureFigures:
    """Noise, contrast and sharpness."""

    noise_grey: float | None
    detectable_grey: float | None
    contrast_grey: float | None
    contrast_sigmas: float | None
    edge_along_px: float | None
    edge_across_px: float | None
    blur_px: float | None
    exposure_us: float | None
    blur_of_gap: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SteadinessFigures:
    """Shake of the camera and creep of the background; None before an even background."""

    shake_px: float | None
    shake_frames: int | None
    creep_px_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionFigures:
    """What falls, at the counting line."""

    parts: int
    speed_px_s: float | None
    length_px: float | None
    width_px: float | None
    spacing_px: float | None
    gap_px: float | None
    step_px: float | None
    step_of_spacing: float | None
    whole_sightings: float | None
    room_before_px: float | None
    room_after_px: float | None
    specks_per_frame: float | None
    at_rest: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadoutFigures:
    """The rolling shutter along the fall; `pace` is speed times line time, at its worst."""

    line_time_us: float | None
    along_fall: bool | None
    pace: float | None
    stretch: float | None
