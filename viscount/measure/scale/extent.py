"""How far a part reaches, at half of its own grey: where neither blur nor threshold moves an end.

An edge that is blurred evenly, or smeared by motion, is at half height where the sharp one was
(the integral of an even kernel over a half plane is one half at its border), as long as the smear
is shorter than the part. A detector's threshold, much lower than half, makes parts longer.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_MIDDLE = 0.2
"""Share of a part's width, around its middle, over which lines are taken."""
_ROUND = 1.25
"""A part whose second moments differ by less than this ratio has no axis."""
_STRAIGHT_RAD = math.radians(1.5)
"""Parts at a smaller slant are measured as they are."""
_LEAST_PX = 4
_FAINT = 0.06
"""Share of a part's grey below which a pixel may be noise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """One sighting of one part, in px.

    Attributes
    ----------
    along, across : through its middle along the fall and across it.
    major, minor : along its own longer axis in the picture, and across that; equal to the longer
        and the shorter of the two above for a part without an axis.
    smear : by how much further the part reaches along the fall than across it, as the smear of a
        part that is round: 0 where it does not.
    """

    along: float
    across: float
    major: float
    minor: float
    smear: float

    @property
    def round_width(self) -> float:
        """Diameter of a ball.

        Away from its middle a ball that is smeared by s along the fall is in front of a pixel for
        the share c/s of the exposure, c its chord there; that is one half of the middle's where
        ``c = min(s, D) / 2``. So the width at half grey w has ``w²/4 = D²/4 - c²/4``.
        """
        width = math.sqrt(self.across**2 + 0.25 * self.smear**2)
        return width if width >= self.smear else self.across / math.sqrt(0.75)


def extent(difference: Floats) -> Extent | None:
    """Return how far one part reaches, or None where it does not stand out.

    Parameters
    ----------
    difference : (n, m) absolute difference from the background in grey, axis 0 along the fall:
        the part whole, with a few px of background around it.
    """
    patch = difference.astype(np.float32)
    if min(patch.shape) < _LEAST_PX:
        return None
    solid = float(np.percentile(patch, 98))
    mask = patch > 0.5 * solid
    if solid <= 0 or np.count_nonzero(mask) < _LEAST_PX:
        return None
    rows, columns = np.nonzero(mask)
    middle = float(rows.mean()), float(columns.mean())
    vy, vx = float(rows.var()) + 1 / 12, float(columns.var()) + 1 / 12
    vxy = float(np.mean((rows - middle[0]) * (columns - middle[1])))
    # Of the axis nearer the fall, from the fall towards larger columns.
    slant = 0.5 * math.atan2(2 * vxy, vy - vx)
    smear = _smear(patch, solid)
    high = 0.5 * (vx + vy) + math.hypot(0.5 * (vy - vx), vxy)
    low = max(vx + vy - high, 1e-6)
    along, across = _lines(patch, middle)
    if along is None or across is None:
        return None
    if high / low < _ROUND:
        return Extent(
            along=along,
            across=across,
            major=max(along, across),
            minor=min(along, across),
            smear=smear,
        )
    major, minor = (along, across) if vy >= vx else (across, along)
    if abs(slant) > _STRAIGHT_RAD and abs(abs(slant) - math.pi / 2) > _STRAIGHT_RAD:
        longer, shorter = _lines(*_turned(patch, middle, slant))
        if longer is None or shorter is None:
            return None
        major, minor = longer, shorter
    return Extent(along=along, across=across, major=major, minor=minor, smear=smear)


def _smear(patch: NDArray[np.float32], solid: float) -> float:
    """Return the even smear along axis 0 that makes a round part longer than broad.

    An even smear by s adds s²/12 to the second moment along it (variance of the rectangular
    distribution); what the lens blurs adds the same both ways.
    """
    weights = np.where(patch > _FAINT * solid, patch, 0.0)
    total = float(weights.sum())
    moments = []
    for axis in (0, 1):
        line = weights.sum(axis=1 - axis) / total
        place = np.arange(line.size)
        middle = float(line @ place)
        moments.append(float(line @ (place - middle) ** 2))
    return math.sqrt(max(12.0 * (moments[0] - moments[1]), 0.0))


def _turned(
    patch: NDArray[np.float32], middle: tuple[float, float], slant: float
) -> tuple[NDArray[np.float32], tuple[float, float]]:
    """Return the patch turned so that the axis lies along axis 0, with its middle."""
    side = math.ceil(math.hypot(*patch.shape)) + 4
    centre = (side - 1) / 2
    c, s = math.cos(slant), math.sin(slant)
    # From the turned picture's (column, row) to the patch's: warpAffine with the inverse map.
    matrix = np.array(
        [
            [c, s, middle[1] - c * centre - s * centre],
            [-s, c, middle[0] + s * centre - c * centre],
        ]
    )
    turned = cv2.warpAffine(
        patch, matrix, (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    )
    return np.asarray(turned, dtype=np.float32), (centre, centre)


def _lines(
    patch: NDArray[np.float32], middle: tuple[float, float]
) -> tuple[float | None, float | None]:
    """Return the lengths along axis 0 and along axis 1 through the middle."""
    across = _length(patch.T, middle[0])
    along = _length(patch, middle[1])
    return along, across


def _length(patch: NDArray[np.float32], at: float) -> float | None:
    """Return the median length along axis 0 of the lines near column `at`."""
    width = _reach(patch.max(axis=0))
    half = max(0.5 * _MIDDLE * (width or 1.0), 1.0)
    low, high = max(round(at - half), 0), min(round(at + half) + 1, patch.shape[1])
    found = [length for line in patch[:, low:high].T if (length := _reach(line)) is not None]
    return float(np.median(found)) if found else None


def _reach(line: NDArray[np.float32]) -> float | None:
    """Return from the first to the last crossing of half the line's own grey, between px."""
    ordered = np.sort(line)
    top = float(ordered[round(0.98 * (line.size - 1))])
    inside = ordered[ordered >= 0.5 * top]
    half = 0.5 * float(np.median(inside)) if inside.size else 0.0
    above = np.flatnonzero(line >= half)
    if half <= 0 or above.size < 2 or above[0] == 0 or above[-1] == line.size - 1:
        return None
    first, last = int(above[0]), int(above[-1])
    lead = (half - float(line[first - 1])) / max(float(line[first] - line[first - 1]), 1e-6)
    trail = (half - float(line[last + 1])) / max(float(line[last] - line[last + 1]), 1e-6)
    return (last + 1 - trail) - (first - 1 + lead)
