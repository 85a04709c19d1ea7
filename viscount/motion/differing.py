"""Whether the parts of a pour are the part that was taught, or stated: another may be in the
magazine."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.motion.clumps import clump_size
from viscount.motion.looks import Growth, Look, growth_of, looks_of, stated_growth
from viscount.motion.parts import Usual
from viscount.motion.single import EDGE_PX, Single, Span
from viscount.motion.speed import MotionPrior
from viscount.motion.spread import quantile
from viscount.motion.track import Track
from viscount.values import Level, Notice

Floats = NDArray[np.float64]

LEAST_PARTS = 3
"""Fewer parts have no usual size."""
SCALE_OFF = 0.04
"""A scale may be off by this share from outlet to outlet, or along one camera's view."""
GROWTH_SIGMAS = 2.0
BLUR_PX2 = 3.0
"""By so much lenses may differ in the second moments that they add, along and across together."""


def unlike_part(tracks: Sequence[Track], look: Usual, prior: MotionPrior) -> Iterator[Notice]:
    """Yield the doubt that these tracks' parts are the one that was taught, else stated.

    Sizes are medians, without what exposure and readout add. They differ where each median lies
    beyond nearly all that the other shows, and by more than edges move from light to light. A
    part that falls otherwise than it did by hand may differ too: that is for people to see. Parts
    must differ by the stated exposure, and by the one that they show: a camera may lengthen it.
    """
    told = prior.single is not None or prior.longest_px is not None
    if not told or not look.model.learned:
        return
    found = looks_of([t for t in tracks if clump_size(t, look) is None], look.model, prior)
    if len(found) < LEAST_PARTS:
        return
    shown = growth_of([t for t, _ in found], look.model, prior, limited=False)
    stated = stated_growth(prior.exposure_s) if prior.exposure_s > 0.0 else shown
    said = _unlike(found, prior, stated)
    if said and _unlike(found, prior, shown):
        yield Notice(level=Level.DOUBT, code=Code.PART_DIFFERS, text=said)


def _unlike(found: Sequence[tuple[Track, Look]], prior: MotionPrior, growth: Growth) -> str:
    """Return in words how parts differ, if they grow with their speed like that."""
    looks = [one.sharp(growth) for _, one in found]
    unsure = GROWTH_SIGMAS * growth.sigma_s * quantile([one.speed for one in looks])
    if prior.single is not None:
        return _unlike_taught(looks, prior.single, unsure)
    return _unlike_stated(looks, prior, unsure)


def _unlike_taught(looks: Sequence[Look], single: Single, unsure: float) -> str:
    """Return in words how parts differ from the taught one; empty where they do not."""
    left = 1.0 - single.smear_px / single.length.usual
    length, area = _less(single.length, single.smear_px), _times(single.area, left)
    edge = EDGE_PX * max(single.coarse_px, 1.0)
    breadth = area.usual / length.usual
    lengths, areas = np.array([o.length for o in looks]), np.array([o.area for o in looks])
    said = []
    scale = single.scale_px_per_mm
    slack = 2.0 * edge + unsure + SCALE_OFF * length.usual
    if _apart(lengths, length, slack):
        said.append(_said("long along the fall", lengths, length, scale))
    slack = single.rim() + unsure * breadth
    if _apart(areas, area, slack + 2.0 * SCALE_OFF * area.usual):
        said.append(_said("in area", areas, area, scale, square=True))
    radii = np.array([one.gyration for one in looks])
    slack = BLUR_PX2 * max(single.coarse_px, 1.0) ** 2 / (2.0 * single.gyration.usual)
    if _apart(radii, single.gyration, slack + SCALE_OFF * single.gyration.usual):
        said.append(_said("in radius of gyration", radii, single.gyration, scale))
    return f"the parts are {'; '.join(said)}" if said else ""


def _unlike_stated(looks: Sequence[Look], prior: MotionPrior, unsure: float) -> str:
    """Return in words how parts differ from the stated sizes; empty where they do not."""
    lengths = np.array([one.length for one in looks])
    slack = 2.0 * EDGE_PX + unsure
    usual = float(np.median(lengths))
    longest = prior.longest_px
    if longest is not None and usual > (1.0 + SCALE_OFF) * longest + slack:
        return f"the parts are {usual:.0f} px long, where one of the stated sizes has {longest:.0f}"
    return ""


def _apart(seen: Floats, taught: Span, slack: float) -> bool:
    """Whether each median lies beyond nearly all of the other's."""
    low, usual, high = np.percentile(seen, [5, 50, 95])
    beyond_taught = not taught.low - slack <= usual <= taught.high + slack
    return beyond_taught and not low - slack <= taught.usual <= high + slack


def _said(
    what: str, seen: Floats, taught: Span, scale: float | None, *, square: bool = False
) -> str:
    """Return both numbers in words, in mm where the scale is known."""
    power = 2 if square else 1
    unit = ("px" if scale is None else "mm") + ("²" if square else "")
    by = 1.0 if scale is None else scale**power
    ours = f"{float(np.median(seen)) / by:.3g}"
    span = f"{taught.low / by:.3g} to {taught.high / by:.3g}"
    return f"{ours} {unit} {what}, where the taught part has {taught.usual / by:.3g} ({span})"


def _less(span: Span, by: float) -> Span:
    return Span(low=max(span.low - by, 1.0), usual=span.usual - by, high=span.high - by)


def _times(span: Span, by: float) -> Span:
    return Span(low=by * span.low, usual=by * span.usual, high=by * span.high)
