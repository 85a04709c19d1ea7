"""The large numbers: in the bag, wanted, held; and what each counter has."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """What is shown large.

    Attributes
    ----------
    in_bag : in the bag so far; of a run without bags, through the line so far.
    wanted, held : None where unknown.
    label : what `in_bag` counts.
    camera : parts by the camera so far.
    beam : pulses of the beam so far, or its parts once they are known; None without a beam.
    bag : in words, or empty.
    """

    in_bag: int | None = None
    wanted: int | None = None
    held: int | None = None
    label: str = "through the line"
    camera: int = 0
    beam: int | None = None
    beam_label: str = "pulses"
    bag: str = ""
