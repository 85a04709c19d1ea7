"""The scale by a part of known size, as whole sightings of single parts show it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.measure.scale.budget import Budget, Input, rectangular
from viscount.measure.scale.extent import Extent
from viscount.measure.scale.way import By, Way
from viscount.values import Level, Notice

Floats = NDArray[np.float64]

SIZE_SHARE: Final = 0.01
"""Half-width: parts differ from their nominal size by so much (an M4 screw of 12 mm may measure
11.65 to 12.35, its head 6.78 to 7.0)."""
EDGE_PX: Final = 0.5
"""Half-width: where a part's ends are, both together, with gamma, compression, bright rims."""
CORNERS: Final = 2.0 / math.sqrt(3.0)
"""A hexagon's corners over its flats."""
ONE_TURNS: Final = 0.05
"""Half-width: by so much one part alone may show another size than it has."""
TURNS: Final = 0.1
"""Parts whose sizes spread by a larger share do not show the stated one."""
ROUND_SHORT, ROUND_SHARE = 0.015, 0.02
"""A ball is measured that much too small, give or take the half-width, by how its rim blurs and by
lines beside its middle: discs of 8 to 26 px, drawn with a blur of 0.4 to 2 px and smeared by up to
their own diameter, come out as 0.968 to 1.029 of themselves, 0.985 in the middle."""
LEAST_SIGHTINGS: Final = 2
MAD_TO_SIGMA: Final = 1.4826


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What size of a part is known, and which of its extents shows it.

    Attributes
    ----------
    key : of the part file.
    mm : the size.
    axis : "along" the fall, "major" for the longer axis in the picture, or "round".
    unsure_mm : half-width that the shape adds (a hexagon may show flats or corners).
    turns : whether it shows another size where the part is turned.
    """

    key: str
    mm: float
    axis: str
    unsure_mm: float = 0.0
    turns: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """One part: its whole sightings, each with the speed there in px/s."""

    extents: tuple[Extent, ...]
    speeds_px_s: tuple[float, ...]


def stated_size(
    *,
    shape: str | None,
    overall_length_mm: float | None,
    diameter_mm: float | None,
    thickness_mm: float | None,
    along_fall_mm: float | None,
) -> Stated | None:
    """Return the size that pictures show best, however the part turns; None where none is known.

    A ball's width has no blur of the fall in it; a flat part's greatest width is its diameter,
    however it is turned; a screw's axis is the longer one in the picture.
    """
    if shape == "ball" and diameter_mm is not None:
        unsure = ROUND_SHARE * diameter_mm
        return Stated(
            key="diameter_mm", mm=diameter_mm, axis="round", unsure_mm=unsure, turns=False
        )
    flat = diameter_mm is not None and thickness_mm is not None and diameter_mm > thickness_mm
    if shape == "washer" and flat and diameter_mm is not None:
        return Stated(key="diameter_mm", mm=diameter_mm, axis="major")
    if shape == "nut" and flat and diameter_mm is not None:
        middle = 0.5 * (1.0 + CORNERS) * diameter_mm
        unsure = middle - diameter_mm
        return Stated(key="diameter_mm", mm=middle, axis="major", unsure_mm=unsure)
    long = overall_length_mm is not None and overall_length_mm > 1.2 * (diameter_mm or 0.0)
    if shape == "screw" and long and overall_length_mm is not None:
        return Stated(key="overall_length_mm", mm=overall_length_mm, axis="major")
    if along_fall_mm is not None:
        return Stated(key="along_fall_mm", mm=along_fall_mm, axis="along")
    return None


def by_part(
    parts: Sequence[Sized],
    stated: Stated,
    *,
    source: str,
    line_time_along_s: float = 0.0,
    line_time_share: float = 0.01,
) -> Way:
    """Return the scale by the size of single parts, or why there is none.

    A rolling shutter along the fall shows a part longer by ``1 / (1 - v t)`` (`measure.readout`).
    """
    sizes, paces = [], []
    for part in parts:
        if len(part.extents) < LEAST_SIGHTINGS:
            continue
        each = [
            _shown(one, stated.axis, speed * line_time_along_s)
            for one, speed in zip(part.extents, part.speeds_px_s, strict=True)
        ]
        sizes.append(float(np.median(each)))
        paces.append(abs(float(np.median(part.speeds_px_s)) * line_time_along_s))
    if not sizes:
        text = f"none of {len(parts)} parts is seen whole and alone in {LEAST_SIGHTINGS} frames"
        return _refused(source, text)
    px = np.array(sizes)
    middle = float(np.median(px))
    spread = MAD_TO_SIGMA * float(np.median(np.abs(px - middle)))
    if len(px) < 3:
        spread = max(spread, float(np.ptp(px)))
    notices: tuple[Notice, ...] = ()
    if spread > TURNS * middle:
        text = (
            f"{stated.key} of {stated.mm:g} mm shows as {middle - spread:.1f} to "
            f"{middle + spread:.1f} px: the parts turn as they fall, or differ"
        )
        notices = (Notice(level=Level.DOUBT, code=Code.PART_SIZE_UNCLEAR, text=text),)
    value = middle / stated.mm
    n = len(px)
    shutter = 0.0 if stated.axis == "round" else float(np.median(paces)) * line_time_share
    inputs = (
        # The median's own scatter is 1.25 times the mean's (normal distribution).
        Input(name="scatter of the parts", u=1.25 * spread / math.sqrt(n) / middle, freedom=n),
        # Parts that turn show themselves shorter, or longer, all in the same sense.
        Input(name="turning", u=_turning(stated, spread / middle, n)),
        Input(name="the stated size", u=rectangular(SIZE_SHARE)),
        Input(name="the shape", u=rectangular(stated.unsure_mm / stated.mm)),
        Input(name="edges", u=rectangular(EDGE_PX) / middle),
        Input(name="line time", u=rectangular(shutter)),
    )
    return Way(
        by=By.PART,
        source=source,
        value=value,
        budget=Budget(inputs=inputs).scaled(value),
        what=f"{stated.key} of {stated.mm:.4g} mm is {middle:.2f} px in {n} "
        + ("part" if n == 1 else "parts"),
        notices=notices,
    )


def _turning(stated: Stated, spread: float, n: int) -> float:
    """Return the relative uncertainty by turns: one part does not show how far it turns."""
    if not stated.turns:
        return 0.0
    return spread if n > 1 else rectangular(ONE_TURNS)


def _shown(one: Extent, axis: str, pace: float) -> float:
    """Return the extent with the readout's stretch taken off, for axes near the fall."""
    size = {"along": one.along, "round": one.round_width * (1.0 + ROUND_SHORT), "major": one.major}[
        axis
    ]
    if axis == "round" or pace == 0.0:
        return size
    near_fall = axis == "along" or abs(one.major - one.along) <= abs(one.major - one.across)
    return size * max(1.0 - pace, 0.2) if near_fall else size


def _refused(source: str, text: str) -> Way:
    notice = Notice(level=Level.INVALID, code=Code.PART_SIZE_UNCLEAR, text=text)
    return Way(
        by=By.PART,
        source=source,
        value=None,
        budget=Budget(inputs=()),
        what="nothing",
        notices=(notice,),
    )
