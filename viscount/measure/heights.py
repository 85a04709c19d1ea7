"""Where lip, beam and blade stand below the counting line, by the outlet file."""

import math
from dataclasses import dataclass
from typing import Literal

from viscount.outlet import Outlet
from viscount.tally import SetUp

Place = Literal["lip", "beam", "gate"]

SIGMA_MM, SIGMA_PX = 1.0, 1.0
"""Standard uncertainty of a height that is stated in mm (a ruler's), or in px (a picture's)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """A height below the counting line, downstream positive, and its standard uncertainty.

    Both in `unit`, "mm" where a scale is known, else "px".
    """

    below_line: float
    sigma: float
    unit: str

    def in_px(self, scale_px_per_mm: float | None) -> tuple[float, float]:
        """Return the height and its standard uncertainty in px, by the scale it was made with."""
        scale = 1.0 if self.unit == "px" or scale_px_per_mm is None else scale_px_per_mm
        return scale * self.below_line, scale * self.sigma


def height_below_line(place: Place, outlet: Outlet, set_up: SetUp) -> Height | None:
    """Return how far a place is below the line of a tally; None where the file does not tell.

    The gate's is that of its blade. A height in px needs nothing more; one in mm below the lip
    needs `view.lip_px` and the scale.
    """
    scale, lip_px = set_up.scale_px_per_mm, outlet.view.lip_px
    if place == "lip":
        return None if lip_px is None else _in_picture(lip_px, set_up)
    section = outlet.beam if place == "beam" else outlet.gate
    if section is None:
        return None
    if section.at_px is not None:
        return _in_picture(section.at_px, set_up)
    if section.below_lip_mm is None or lip_px is None or scale is None:
        return None
    lip = _in_picture(lip_px, set_up)
    below = lip.below_line + section.below_lip_mm
    return Height(below_line=below, sigma=math.hypot(SIGMA_MM, lip.sigma), unit="mm")


def _in_picture(at_px: float, set_up: SetUp) -> Height:
    scale = set_up.scale_px_per_mm
    below_px = set_up.falls.sign * (at_px - set_up.line_px)
    if scale is None:
        return Height(below_line=below_px, sigma=SIGMA_PX, unit="px")
    return Height(below_line=below_px / scale, sigma=SIGMA_PX / scale, unit="mm")
