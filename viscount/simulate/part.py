"""The parts that fall: their shapes and looks."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from viscount.simulate.model import Grey, Model, NotNegative, Positive


class Surface(Model):
    """What a part looks like, whatever its shape.

    Attributes
    ----------
    name : what the part file calls it.
    grey : grey level, or None for the camera's `part_grey`.
    glint_mm : width of a bright band across the middle of the part; 0 for none.
    glint_grey : grey level of that band, or None for the background's.
    """

    name: str = "part"
    grey: Grey | None = None
    glint_mm: NotNegative = 0.0
    glint_grey: Grey | None = None


class Screw(Surface):
    """A cylinder-head screw seen from the side; at angle 0 its head is upstream."""

    shape: Literal["screw"] = "screw"
    overall_length_mm: Positive
    head_diameter_mm: Positive
    head_height_mm: Positive
    shank_diameter_mm: Positive

    @model_validator(mode="after")
    def _head_within_length(self) -> Self:
        if self.head_height_mm >= self.overall_length_mm:
            raise ValueError("head_height_mm must be below overall_length_mm, which includes it")
        return self


class Bored(Surface):
    """A flat part with a bore, seen flat (the bore shows) or on its edge."""

    thickness_mm: Positive
    bore_mm: NotNegative
    pose: Literal["flat", "edge"] = "flat"


class Nut(Bored):
    """A hexagon nut; at angle 0 two corners lie along the fall."""

    shape: Literal["nut"] = "nut"
    across_flats_mm: Positive

    @model_validator(mode="after")
    def _bore_within(self) -> Self:
        if self.bore_mm >= self.across_flats_mm:
            raise ValueError("bore_mm must be below across_flats_mm")
        return self


class Washer(Bored):
    """A plain washer."""

    shape: Literal["washer"] = "washer"
    diameter_mm: Positive

    @model_validator(mode="after")
    def _bore_within(self) -> Self:
        if self.bore_mm >= self.diameter_mm:
            raise ValueError("bore_mm must be below diameter_mm")
        return self


class Ball(Surface):
    """A ball."""

    shape: Literal["ball"] = "ball"
    diameter_mm: Positive


class Box(Surface):
    """A rectangular part."""

    shape: Literal["box"] = "box"
    along_mm: Positive
    across_mm: Positive


AnyPart = Screw | Nut | Washer | Ball | Box
Part = Annotated[AnyPart, Field(discriminator="shape")]
