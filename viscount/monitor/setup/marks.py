"""What a user marks in the picture of an outlet."""

import math
from dataclasses import dataclass
from enum import StrEnum

from viscount.outlet import BeamSettings, Box, GateSettings, Outlet
from viscount.values import Falls


class Mark(StrEnum):
    """One of the marks, in the order in which they are offered."""

    LINE = "counting line"
    REGION = "region"
    LIP = "lip"
    SCALE = "scale"
    BEAM = "beam"
    BLADE = "blade"
    LAMP = "lamp"

    @property
    def crosses(self) -> bool:
        """Whether it is a line across the fall."""
        return self in (Mark.LINE, Mark.LIP, Mark.BEAM, Mark.BLADE)

    @property
    def framed(self) -> bool:
        """Whether it is a box."""
        return self in (Mark.REGION, Mark.LAMP)


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """Where something stands along the fall: at a place in the picture, or below the lip.

    One of the two is None, as in the outlet file.
    """

    at_px: float | None = None
    below_lip_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """A segment in the picture, and how long it is in truth; None until that is typed."""

    x0_px: float
    y0_px: float
    x1_px: float
    y1_px: float
    mm: float | None = None

    @property
    def length_px(self) -> float:
        """From end to end."""
        return math.hypot(self.x1_px - self.x0_px, self.y1_px - self.y0_px)


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """All marks; None for those that are still open.

    Coordinates as in the outlet file: px of the picture, (0, 0) the centre of its first pixel,
    boxes half-open; places along the fall are y where parts fall down or up, else x. The ruler
    is no part of the file: it tells the scale.
    """

    falls: Falls | None = None
    line_px: float | None = None
    lip_px: float | None = None
    region: Box | None = None
    lamp: Box | None = None
    beam: Height | None = None
    blade: Height | None = None
    scale_px_per_mm: float | None = None
    ruler: Ruler | None = None

    @property
    def direction(self) -> Falls:
        """Where parts go; down where nobody said."""
        return self.falls or Falls.DOWN

    def is_open(self, mark: Mark) -> bool:
        """Whether nobody has set this mark."""
        return self.said(mark) is None

    def said(self, mark: Mark) -> object | None:
        """Return what is said of a mark; None where it is open."""
        match mark:
            case Mark.LINE:
                return self.line_px
            case Mark.LIP:
                return self.lip_px
            case Mark.REGION:
                return self.region
            case Mark.LAMP:
                return self.lamp
            case Mark.BEAM:
                return self.beam
            case Mark.BLADE:
                return self.blade
            case Mark.SCALE:
                return self.scale_px_per_mm or self.ruler

    def place_px(self, mark: Mark) -> float | None:
        """Return where a line lies along the fall; None where it is open or cannot be told.

        What is given in mm below the lip needs the lip and the scale.
        """
        match mark:
            case Mark.LINE:
                return self.line_px
            case Mark.LIP:
                return self.lip_px
            case Mark.BEAM:
                return self._height_px(self.beam)
            case Mark.BLADE:
                return self._height_px(self.blade)
            case _:
                return None

    def box(self, mark: Mark) -> Box | None:
        """Return a mark's box; None where it is open, or is no box."""
        return {Mark.REGION: self.region, Mark.LAMP: self.lamp}.get(mark)

    def below_lip_mm(self, mark: Mark) -> float | None:
        """Return how far a line is below the lip; None where that cannot be told."""
        height = {Mark.BEAM: self.beam, Mark.BLADE: self.blade}.get(mark)
        if height is not None and height.below_lip_mm is not None:
            return height.below_lip_mm
        place = self.place_px(mark)
        if place is None or self.lip_px is None or not self.scale_px_per_mm:
            return None
        return self.direction.sign * (place - self.lip_px) / self.scale_px_per_mm

    def _height_px(self, height: Height | None) -> float | None:
        if height is None or height.at_px is not None:
            return None if height is None else height.at_px
        if height.below_lip_mm is None or self.lip_px is None or not self.scale_px_per_mm:
            return None
        away = self.direction.sign * height.below_lip_mm * self.scale_px_per_mm
        return self.lip_px + away


def marks_of(outlet: Outlet) -> Marks:
    """Return what an outlet says of the marks."""
    view, beam, gate = outlet.view, outlet.beam, outlet.gate
    return Marks(
        falls=view.falls,
        line_px=view.line_px,
        lip_px=view.lip_px,
        region=view.region_px,
        lamp=view.lamp_px,
        beam=_height(beam),
        blade=_height(gate),
        scale_px_per_mm=view.scale_px_per_mm,
    )


def _height(stands: BeamSettings | GateSettings | None) -> Height | None:
    if stands is None:
        return None
    return Height(at_px=stands.at_px, below_lip_mm=stands.below_lip_mm)
