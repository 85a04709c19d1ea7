"""What a camera makes of parts that fall through its view."""

import math
from dataclasses import dataclass

from viscount.plan.stream import Drop, HeightRow, Pair

WHOLE_SIGHTINGS = 3
"""So many whole sightings of each part tell its path without anything else."""

READOUT_RATIO = 0.6
"""Beyond this share of the readout's pace, times cannot be put right."""

SHARP_SHARE = 0.25
"""Blur beyond this share of the gap costs accuracy."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """The camera; what is not known is None.

    `view_mm` is (from, to) below the lip. `line_time_s` counts where lines run along the fall.
    """

    fps: float | None = None
    exposure_s: float | None = None
    view_mm: tuple[float, float] | None = None
    scale_px_per_mm: float | None = None
    line_time_s: float | None = None

    @property
    def height_mm(self) -> float | None:
        """Length of the view along the fall."""
        return None if self.view_mm is None else self.view_mm[1] - self.view_mm[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraRow:
    """Two parts as the camera sees them; None where something is not known.

    Attributes
    ----------
    sightings, whole_sightings : frames in which the second part, the faster one, is seen at
        all, and seen whole, on average.
    step_mm, step_px : how far the two move from frame to frame, at the line.
    displacement_per_spacing : that over the spacing; above a half the nearest part in the next
        frame is another one.
    blur_mm, blur_px : speed times exposure. blur_per_gap : that over the gap.
    length_px : the part's length. readout_ratio : speed times line time.
    """

    pair: str
    sightings: float | None
    whole_sightings: float | None
    step_mm: float | None
    step_px: float | None
    displacement_per_spacing: float | None
    blur_mm: float | None
    blur_px: float | None
    blur_per_gap: float | None
    length_px: float | None
    readout_ratio: float | None


def camera_row(drop: Drop, shot: Shot, pair: Pair, at: HeightRow, length_mm: float) -> CameraRow:
    """Return what the camera makes of two parts, at the height of `at` where that matters."""
    step = None if shot.fps is None else at.speed_mm_s / shot.fps
    blur = None if shot.exposure_s is None else at.speed_mm_s * shot.exposure_s
    scale = shot.scale_px_per_mm
    ratio = None
    if scale is not None and shot.line_time_s is not None:
        ratio = at.speed_mm_s * scale * shot.line_time_s
    return CameraRow(
        pair=pair.label,
        sightings=_frames(shot, time_in_view_s(drop, shot, pair, -length_mm)),
        whole_sightings=_frames(shot, time_in_view_s(drop, shot, pair, length_mm)),
        step_mm=step,
        step_px=_scaled(step, scale),
        displacement_per_spacing=_over(step, at.spacing_mm),
        blur_mm=blur,
        blur_px=_scaled(blur, scale),
        blur_per_gap=_over(blur, at.gap_mm),
        length_px=_scaled(length_mm, scale),
        readout_ratio=ratio,
    )


def time_in_view_s(drop: Drop, shot: Shot, pair: Pair, length_mm: float) -> float | None:
    """Return how long a part of this length is whole in view; with a negative one, in it at all.

    By its centre, which then has so much less, or more, of the view to fall through.
    """
    if shot.view_mm is None:
        return None
    top = max(shot.view_mm[0] + length_mm / 2, 0.0)
    bottom = shot.view_mm[1] - length_mm / 2
    if bottom <= top:
        return 0.0
    speed = pair.second_mm_s
    return drop.time_s(speed, bottom) - drop.time_s(speed, top)


def least_height_mm(
    drop: Drop, shot: Shot, pair: Pair, length_mm: float, line_mm: float | None
) -> float | None:
    """Return the least view that shows the part whole often enough.

    From the view's upper end on; where no view is given, with the line in the middle.
    """
    if shot.fps is None:
        return None
    time, gravity = WHOLE_SIGHTINGS / shot.fps, drop.acceleration_mm_s2
    if shot.view_mm is not None:
        top = max(shot.view_mm[0] + length_mm / 2, 0.0)
        speed = drop.speed_mm_s(pair.second_mm_s, top)
        fallen = speed * time + gravity * time**2 / 2
        return top + fallen + length_mm / 2 - shot.view_mm[0]
    if line_mm is None:
        return None
    # The mean speed m over a stretch with the line in its middle: m² + (g t / 2)² = v(line)².
    square = drop.speed_mm_s(pair.second_mm_s, line_mm) ** 2 - (gravity * time / 2) ** 2
    mean = math.sqrt(max(square, 0.0))
    if mean - gravity * time / 2 >= pair.second_mm_s:
        return mean * time + length_mm
    fallen = pair.second_mm_s * time + gravity * time**2 / 2
    return 2 * (fallen - line_mm) + length_mm


def _frames(shot: Shot, time_s: float | None) -> float | None:
    return None if shot.fps is None or time_s is None else shot.fps * time_s


def _scaled(length_mm: float | None, scale: float | None) -> float | None:
    return None if length_mm is None or scale is None else length_mm * scale


def _over(part: float | None, whole: float) -> float | None:
    return None if part is None or whole <= 0 or not math.isfinite(whole) else part / whole
