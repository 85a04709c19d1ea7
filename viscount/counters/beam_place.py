"""Where the beam stands below the counting line, and how fast parts pass it."""

import math
from dataclasses import dataclass

import numpy as np

from viscount import fall
from viscount.barrier import BeamLaw
from viscount.measure.heights import height_below_line
from viscount.outlet import Outlet
from viscount.tally import SetUp
from viscount.values import Passage

LEANS_MM = 300.0 / math.tan(math.radians(3.0))
"""A camera set by eye leans by about 3 degrees, and looks from about 300 mm: over a way of so many
mm its scale changes by the whole of itself, over a shorter one by that share."""
LEAST_SPEED_SHARE = 0.05
"""A part that would be slower than this share of its speed at the line does not fall there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamPlace:
    """The beam along the fall.

    Attributes
    ----------
    below_line_px : downstream from the counting line; None where nothing tells.
    sigma_px : standard uncertainty of that.
    acceleration_px_s2 : of the parts.
    scale_px_per_mm : None where unknown.
    law : of the barrier, in mm.
    """

    below_line_px: float | None
    sigma_px: float
    acceleration_px_s2: float
    scale_px_per_mm: float | None
    law: BeamLaw

    @property
    def known(self) -> bool:
        """Whether the beam's height is known."""
        return self.below_line_px is not None

    def speed_px_s(self, passage: Passage) -> float:
        """Return a part's speed at the beam; at the line, where the height is unknown."""
        at_line = abs(passage.speed_px_s)
        if self.below_line_px is None:
            return at_line
        return float(fall.speed_at(at_line, self.acceleration_px_s2, self.below_line_px))


def beam_place(outlet: Outlet, set_up: SetUp, passages: tuple[Passage, ...]) -> BeamPlace:
    """Return where the beam is, by the outlet file.

    A height that parts with these speeds could not fall from, or to, counts as unknown.
    """
    beam, scale = outlet.beam, set_up.scale_px_per_mm
    acceleration = set_up.acceleration_px_s2
    law = BeamLaw(width=(beam.width_mm or 0.0) if beam is not None else 0.0)
    below, sigma = None, 0.0
    height = height_below_line("beam", outlet, set_up)
    if height is not None and acceleration is not None:
        below, sigma = height.in_px(scale)
        sigma = math.hypot(sigma, _leaning_px(outlet, set_up))
    if below is not None and passages and acceleration is not None:
        at_line = np.abs([p.speed_px_s for p in passages])
        there = fall.speed_at(at_line, acceleration, below)
        if float(np.median(there)) < LEAST_SPEED_SHARE * float(np.median(at_line)):
            below = None
    return BeamPlace(
        below_line_px=below,
        sigma_px=sigma,
        acceleration_px_s2=acceleration or 0.0,
        scale_px_per_mm=scale,
        law=law,
    )


def _leaning_px(outlet: Outlet, set_up: SetUp) -> float:
    """Return how far off a height in mm below the lip may be because the camera leans, in px.

    Where it leans, the lip is not as many mm from the line as the scale at the line says.
    """
    lip = height_below_line("lip", outlet, set_up)
    scale = set_up.scale_px_per_mm
    stated = outlet.beam is not None and outlet.beam.below_lip_mm is not None
    if lip is None or scale is None or not stated:
        return 0.0
    return scale * lip.below_line**2 / LEANS_MM
