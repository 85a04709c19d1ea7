"""The part file: what falls. Also allowed inline in an outlet file, as ``part:``."""

from enum import StrEnum
from math import hypot
from typing import Annotated, Self
from unicodedata import category

from pydantic import AfterValidator, Field, model_validator

from viscount.outlet.keys import Section, contradiction, key
from viscount.outlet.taught import Taught

Length = Annotated[float, Field(strict=True, gt=0, le=10_000)]


def _on_one_line(text: str) -> str:
    if text != text.strip() or any(category(c) in ("Cc", "Zl", "Zp") for c in text):
        raise contradiction(
            "",
            repr(text),
            allowed="text on one line, without spaces at its ends",
            remedy="correct it",
        )
    return text


Label = Annotated[
    str, Field(strict=True, min_length=1, max_length=200), AfterValidator(_on_one_line)
]


class Shape(StrEnum):
    """What kind of part it is."""

    SCREW = "screw"
    NUT = "nut"
    WASHER = "washer"
    BALL = "ball"
    OTHER = "other"


class Part(Section):
    """The part that falls."""

    name: Label | None = key("What the part is called in documents.", "M4x12 screw")
    shape: Shape | None = key("screw, nut, washer, ball or other.", "screw")
    overall_length_mm: Length | None = key(
        "Length along the part's axis, head included: an M4x12 ISO 4762 screw is 16.", 16.0
    )
    diameter_mm: Length | None = key(
        "Size across the axis: a screw's head, a washer's rim, a nut's flats.", 7.0
    )
    thickness_mm: Length | None = key("Thickness: of a flat part, or of a screw's head.", 4.0)
    bore_mm: Length | None = key("Diameter of the hole, where there is one.", 3.0)
    along_fall_mm: Length | None = key("Size along the fall, as the part leaves the lip.", 16.0)
    stack_pitch_mm: Length | None = key(
        "From one part to the next in a touching stack; less than a part where they nest.", 5.5
    )
    taught: Taught | None = key("What `viscount teach` has written; not for editing by hand.")

    @model_validator(mode="after")
    def _sizes_agree(self) -> Self:
        across, along = self.diameter_mm, self.along_fall_mm
        if self.bore_mm is not None and across is not None and self.bore_mm >= across:
            raise contradiction(
                "bore_mm",
                f"a bore of {self.bore_mm:g} mm in a part of diameter {across:g} mm",
                allowed="a bore smaller than diameter_mm",
            )
        longest = self._longest()
        if along is not None and longest is not None and along > 1.5 * longest:
            raise contradiction(
                "along_fall_mm",
                f"{along:g} mm along the fall, of a part whose diagonal is {longest:.3g} mm",
                allowed="at most the part's diagonal",
                remedy="check the part's sizes; all are in mm",
            )
        sizes = [s for s in (self.overall_length_mm, across, along) if s is not None]
        if self.shape is Shape.BALL and sizes and max(sizes) > 1.05 * min(sizes):
            raise contradiction(
                "shape",
                f"a ball whose sizes differ ({min(sizes):g} and {max(sizes):g} mm)",
                allowed="one size for overall_length_mm, diameter_mm and along_fall_mm",
            )
        return self

    def _longest(self) -> float | None:
        """Return the diagonal in mm, or None where too few sizes are given.

        A flat part's length along its axis is its thickness.
        """
        axial = self.overall_length_mm
        if axial is None and self.shape in (Shape.NUT, Shape.WASHER):
            axial = self.thickness_mm
        if axial is None or self.diameter_mm is None:
            return None
        return hypot(axial, self.diameter_mm)
