"""The parts that fall: their shapes in three dimensions, and their looks."""

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from viscount.simulate.scene.fasteners import standard_part
from viscount.simulate.scene.model import Grey, Model, NotNegative, Positive


class Surface(Model):
    """What a part looks like, whatever its shape.

    Attributes
    ----------
    name : what the part file calls it.
    grey : grey level where the light does not fall on it, or None for the camera's `part_grey`.
    shading_grey : how much brighter a face is that looks straight into the light (above the
        camera, to the right of it); 0 for a plain silhouette.
    gloss_grey : how much brighter still the glint is, which a face shows only while it throws
        the light into the camera; it moves and flashes as the part turns.
    glint_mm : width of a steady bright band across the middle of the part; 0 for none.
    glint_grey : grey level of that band, or None for the background's.
    """

    name: str = "part"
    grey: Grey | None = None
    shading_grey: Grey = 0.0
    gloss_grey: Grey = 0.0
    glint_mm: NotNegative = 0.0
    glint_grey: Grey | None = None


class Screw(Surface):
    """A screw; at angle 0 it lies along the fall, its head upstream.

    The head is a cylinder, a hexagon prism whose `head_diameter_mm` is measured across flats,
    or a dome (a spherical cap). A hexagon head leads with a flat towards the camera at roll 0.
    """

    shape: Literal["screw"] = "screw"
    overall_length_mm: Positive
    head_diameter_mm: Positive
    head_height_mm: Positive
    shank_diameter_mm: Positive
    head: Literal["cylinder", "hexagon", "dome"] = "cylinder"

    @model_validator(mode="after")
    def _head_within_length(self) -> Self:
        if self.head_height_mm >= self.overall_length_mm:
            raise ValueError("head_height_mm must be below overall_length_mm, which includes it")
        return self


class Bored(Surface):
    """A flat part with a bore.

    As it leaves the lip it lies flat to the camera (the bore shows), or on its edge with its
    thickness along the fall, or it stands: its thickness across the fall.
    """

    thickness_mm: Positive
    bore_mm: NotNegative
    pose: Literal["flat", "edge", "standing"] = "flat"


class Nut(Bored):
    """A hexagon nut; at angle 0 two corners lie along the fall where it lies flat."""

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
    """A plate that always shows the camera the same rectangle, and turns in its plane only."""

    shape: Literal["box"] = "box"
    along_mm: Positive
    across_mm: Positive


def _resolved(given: Any) -> Any:
    """Put the dimensions of a standard part in the place of its designation."""
    if isinstance(given, dict) and "standard" in given:
        own = {key: value for key, value in given.items() if key != "standard"}
        return standard_part(given["standard"]) | own
    return given


AnyPart = Screw | Nut | Washer | Ball | Box
Part = Annotated[AnyPart, Field(discriminator="shape"), BeforeValidator(_resolved)]
