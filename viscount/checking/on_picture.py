"""Noise, contrast and motion blur."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from viscount.checking.figures import PictureFigures
from viscount.checking.finding import Finding, doubt, refusal
from viscount.checking.on_motion import MotionEvidence, large_rows, part_contrast
from viscount.checking.regions import Regions
from viscount.codes import Code
from viscount.measure.blur import blur_px, growth_s
from viscount.motion.speed import SpeedModel

NOISE_GREY = 4.0
"""Noise of a pixel from which on a part of 25 grey, 6 sigma, would be missed."""

CONTRAST_SIGMAS, CONTRAST_DETECTABLE = 6.0, 1.5
"""A part differs by so many sigma of the noise, and by so many times what can be seen."""

WARN_OF_GAP, REFUSE_OF_GAP = 0.25, 1.0
"""Shares of the gap that motion blur may fill."""

LEAST_BLUR_PX = 2.0
"""Less blur than this costs nothing; below 1 px it cannot be told from the lens's."""

_LEAST_ENDS = 6

_HALF, _LONGEST = 0.5, 1.1

_ALIKE = (0.6, 1.6)
"""Times the usual area between which regions are single parts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureEvidence:
    """How parts look; None where it cannot be told.

    `blur_px` is at the line; `gap_px` the close gaps there, without blur.
    """

    noise: float | None
    detectable: float | None
    contrast: float | None
    along_px: float | None
    across_px: float | None
    blur_px: float | None
    exposure_us: float | None
    gap_px: float | None
    run_together: bool


def picture_evidence(
    regions: Regions,
    noise: float | None,
    motion: MotionEvidence,
    model: SpeedModel | None,
    first_ns: int,
) -> PictureEvidence:
    """Put together what the regions show of noise, contrast and blur."""
    grey = regions.contrasts["grey"]
    along, across, exposure_us = _exposure(regions, motion, model, first_ns)
    blur = None
    if exposure_us is not None and motion.speed_px_s is not None:
        blur = exposure_us * 1e-6 * motion.speed_px_s
    gap = motion.gap_px
    return PictureEvidence(
        noise=noise,
        detectable=float(np.median(grey)) if grey.size else None,
        contrast=part_contrast(regions),
        along_px=along,
        across_px=across,
        blur_px=blur,
        exposure_us=exposure_us,
        # A part's length in the picture has its blur in it already.
        gap_px=None if gap is None else gap + (blur or 0.0),
        run_together=_run_together(regions, motion),
    )


def _exposure(
    regions: Regions, motion: MotionEvidence, model: SpeedModel | None, first_ns: int
) -> tuple[float | None, float | None, float | None]:
    """Return the edges' lengths along and across the fall in px, and the exposure in us."""
    sides = regions.sharp["side"][large_rows(regions, regions.sharp)]
    sides = sides[np.isfinite(sides)]
    large = large_rows(regions, regions.ends)
    lengths = regions.ends["length"][large]
    if lengths.size < _LEAST_ENDS or not sides.size:
        return None, None, None
    side, end = float(np.median(sides)), float(np.median(lengths))
    if model is None or motion.speed_px_s is None:
        return end, side, None
    place = motion.geometry.along(regions.ends["x"][large], regions.ends["y"][large])
    speeds = model.speed_at(regions.ends["t_s"][large] - first_ns * 1e-9, place)
    moving = speeds > 0
    if not moving.any():
        return end, side, None
    exposure_s = float(np.median(blur_px(lengths[moving], side) / speeds[moving]))
    grown = _grown(regions, motion, model, first_ns)
    if grown is not None and grown[0] > exposure_s:
        # Smeared by more than their own length: their edges tell that length instead.
        exposure_s = sum(grown) / 2
    if motion.interval_s is not None and exposure_s > _LONGEST * motion.interval_s:
        # No exposure outlasts its frame: these edges are soft for another reason.
        return end, side, None
    return end, side, 1e6 * exposure_s


def _grown(
    regions: Regions, motion: MotionEvidence, model: SpeedModel, first_ns: int
) -> tuple[float, float] | None:
    """Return the exposure in s, low and high, by how parts grow with speed."""
    area = regions.whole["area"]
    if motion.area_px is None or motion.geometry.line_time_s > 0:
        return None
    single = (area > _ALIKE[0] * motion.area_px) & (area < _ALIKE[1] * motion.area_px)
    whole = {name: regions.whole[name][single] for name in ("t_s", "x", "y", "along")}
    place = motion.geometry.along(whole["x"], whole["y"])
    return growth_s(model.speed_at(whole["t_s"] - first_ns * 1e-9, place), whole["along"])


def _run_together(regions: Regions, motion: MotionEvidence) -> bool:
    """Tell whether most frames with anything in view show regions that fill half of it."""
    longest = regions.longest["px"]
    view = motion.geometry.bottom - motion.geometry.top
    return bool(longest.size and np.median(longest) >= _HALF * view)


def picture_figures(met: PictureEvidence) -> PictureFigures:
    """Return the figures."""
    sigmas = met.contrast / met.noise if met.contrast is not None and met.noise else None
    return PictureFigures(
        noise_grey=met.noise,
        detectable_grey=met.detectable,
        contrast_grey=met.contrast,
        contrast_sigmas=sigmas,
        edge_along_px=met.along_px,
        edge_across_px=met.across_px,
        blur_px=met.blur_px,
        exposure_us=met.exposure_us,
        blur_of_gap=_share(met),
    )


def _share(met: PictureEvidence) -> float | None:
    if met.blur_px is None or met.gap_px is None or met.gap_px <= 0:
        return None
    return met.blur_px / met.gap_px


def picture_findings(met: PictureEvidence) -> Iterator[Finding]:
    """Yield what there is to say."""
    if met.noise is not None and met.noise >= NOISE_GREY:
        found = f"noise of {met.noise:.1f} grey a pixel"
        if met.detectable is not None:
            found += f"; only what differs by {met.detectable:.0f} grey can be seen"
        yield doubt(Code.PICTURE_NOISY, found, f"less than {NOISE_GREY:g} grey")
    yield from _contrast(met)
    yield from _blur(met)


def _contrast(met: PictureEvidence) -> Iterator[Finding]:
    if met.contrast is None or met.detectable is None or met.noise is None:
        return
    least = max(CONTRAST_SIGMAS * met.noise, CONTRAST_DETECTABLE * met.detectable)
    if met.contrast < least:
        found = (
            f"parts differ from the background by {met.contrast:.0f} grey, "
            f"{met.contrast / met.noise:.1f} sigma of the noise; {met.detectable:.0f} can be seen"
        )
        yield doubt(Code.CONTRAST_LOW, found, f"{least:.0f} grey and more")


def _blur(met: PictureEvidence) -> Iterator[Finding]:
    if met.blur_px is None or met.blur_px < LEAST_BLUR_PX or met.exposure_us is None:
        return
    found = f"parts are smeared by {met.blur_px:.1f} px at the line, an exposure of "
    found += _time(met.exposure_us)
    if met.run_together:
        found += "; they run into one another"
        yield refusal(Code.MOTION_BLURRED, found, "clear gaps between parts")
        return
    share = _share(met)
    if share is None or share <= WARN_OF_GAP:
        return
    found += f"; close gaps are {met.gap_px:.1f} px"
    say = refusal if share > REFUSE_OF_GAP else doubt
    yield say(Code.MOTION_BLURRED, found, f"at most {100 * WARN_OF_GAP:g} % of the gap")


def _time(us: float) -> str:
    return f"{us / 1e3:.2f} ms" if us >= 1000 else f"{us:.0f} us"
