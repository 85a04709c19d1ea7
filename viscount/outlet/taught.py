"""What teaching has written about a part: how one part alone looks to camera and beam.

Lengths are in mm where teaching knew the picture's scale, else in px; each key says which, and
all keys of one section say the same.
"""

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from viscount.outlet.keys import Section, contradiction, key

Above = Annotated[float, Field(strict=True, gt=0, le=1e9)]
NotBelow = Annotated[float, Field(strict=True, ge=0, le=1e9)]
Share = Annotated[float, Field(strict=True, ge=0, le=1)]
Number = Annotated[int, Field(strict=True, ge=0, le=1_000_000)]
Scale = Annotated[float, Field(strict=True, gt=0, le=1000)]
Lengths = Annotated[tuple[Above, ...], Field(min_length=1, max_length=16)]
Lights = Annotated[tuple[Above, ...], Field(max_length=15)]

PLACES = 24
"""A profile is resampled to so many places from the upstream end to the downstream one."""
VERSION = 1
"""Of this section. Another one is refused: a file that is read by the wrong rules is worse than
none."""

Widths = Annotated[tuple[Share, ...], Field(min_length=PLACES, max_length=PLACES)]

_AGAIN = "teach the part again; this section is not for editing by hand"


def _refused(leaf: str, found: str, allowed: str) -> Exception:
    return contradiction(leaf, found, allowed=allowed, remedy=_AGAIN)


def _known(version: int) -> int:
    if version != VERSION:
        raise contradiction(
            "",
            f"version {version}",
            allowed=f"version {VERSION}",
            remedy="use the viscount that wrote it, or teach the part again",
        )
    return version


Version = Annotated[int, Field(strict=True), AfterValidator(_known)]


class Measured(Section):
    """One measure over the single parts, in the unit of its key: median, median absolute
    deviation, and the 5th and 95th percentile."""

    median: Above
    mad: NotBelow
    p05: Above
    p95: Above

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.p05 <= self.median <= self.p95:
            found = f"percentiles {self.p05:g}, {self.median:g} and {self.p95:g}"
            raise _refused("median", found, "p05, median and p95 in rising order")
        return self


class Profile(Section):
    """Width of the part from its upstream end to its downstream one, as a share of the greatest:
    the median over single parts, and the median absolute deviation."""

    median: Widths
    mad: Widths


class Chance(Section):
    """How many of the single parts did it, and how often a part does: 95 % interval."""

    parts: Number
    chance: Share
    low: Share
    high: Share

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.low <= self.chance <= self.high:
            found = f"chances {self.low:g}, {self.chance:g} and {self.high:g}"
            raise _refused("chance", found, "low, chance and high in rising order")
        return self


class TaughtMode(Section):
    """One way in which a single part darkens the beam: dark, light, dark ... along the fall."""

    chance: Annotated[float, Field(strict=True, gt=0, le=1)]
    darks_mm: Lengths | None = None
    lights_mm: Lights | None = None
    sigma_mm: Above | None = None
    darks_px: Lengths | None = None
    lights_px: Lights | None = None
    sigma_px: Above | None = None

    @model_validator(mode="after")
    def _lights_between_darks(self) -> Self:
        unit, other = ("mm", "px") if self.darks_mm else ("px", "mm")
        _one_unit(self, ("darks", "sigma"), unit)
        if getattr(self, f"lights_{other}") is not None:
            raise _refused(f"lights_{other}", f"a length in {other}", f"lengths in {unit}")
        darks, lights, _ = self.lengths
        if len(lights) != len(darks) - 1:
            found = f"{len(darks)} darks with {len(lights)} lights between them"
            raise _refused("", found, "one light less than darks")
        return self

    @property
    def lengths(self) -> tuple[tuple[float, ...], tuple[float, ...], float]:
        """Darks, the lights between them, and their sigma, in the unit that is given."""
        if self.darks_mm is not None:
            return self.darks_mm, self.lights_mm or (), self.sigma_mm or 0.0
        return self.darks_px or (), self.lights_px or (), self.sigma_px or 0.0


class TaughtBeam(Section):
    """How single parts darken the beam; lengths are times in the beam times the speed there.

    `pulse` is from the first dark's start to the last one's end.
    """

    parts: Annotated[int, Field(strict=True, ge=1, le=1_000_000)]
    pulse_mm: Measured | None = None
    pulse_px: Measured | None = None
    one_pulse: Chance
    two_pulses: Chance
    unseen: Chance
    modes: Annotated[tuple[TaughtMode, ...], Field(min_length=1, max_length=64)]

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        unit = "mm" if self.pulse_mm else "px"
        _one_unit(self, ("pulse",), unit)
        if any((mode.darks_mm is not None) != (unit == "mm") for mode in self.modes):
            raise _refused("modes", f"lengths of which not all are in {unit}", "one unit for all")
        told = self.one_pulse.parts + self.two_pulses.parts + self.unseen.parts
        if told > self.parts:
            found = f"{told} parts with one pulse, two or none, of {self.parts}"
            raise _refused("parts", found, "at most as many as there are parts")
        total = sum(mode.chance for mode in self.modes)
        if total > 1.001:
            raise _refused("modes", f"chances that add up to {total:.3g}", "1 at most")
        return self

    @property
    def pulse(self) -> Measured:
        """The pulse's length in the unit that is given."""
        one = self.pulse_mm or self.pulse_px
        assert one is not None
        return one


class Taught(Section):
    """How one part alone looks. Written by `viscount teach`, from single parts.

    With `scale_px_per_mm`, the scale at which the part was taught, all lengths are in mm and
    all areas in mm²; without it, where that was unknown, they are in px and px².
    """

    version: Version
    singles: Annotated[int, Field(strict=True, ge=1, le=1_000_000)]
    scale_px_per_mm: Scale | None = None
    area_mm2: Measured | None = None
    area_px2: Measured | None = None
    length_mm: Measured | None = None
    length_px: Measured | None = None
    gyration_mm: Measured | None = key("Radius of gyration in the plane of the picture.")
    gyration_px: Measured | None = key("Radius of gyration in the plane of the picture.")
    smear_mm: NotBelow | None = key("By how much the exposure made parts longer.")
    smear_px: NotBelow | None = key("By how much the exposure made parts longer.")
    profile: Profile
    beam: TaughtBeam | None = None

    @model_validator(mode="after")
    def _units_fit_the_scale(self) -> Self:
        unit = "px" if self.scale_px_per_mm is None else "mm"
        _one_unit(self, ("area", "length", "gyration"), unit)
        other = "mm" if unit == "px" else "px"
        if getattr(self, f"smear_{other}") is not None:
            raise _refused(f"smear_{other}", f"a length in {other}", f"lengths in {unit}")
        if self.smear >= self.length.median:
            found = f"a smear of {self.smear:g} {unit} in {self.length.median:g} {unit} of length"
            raise _refused(f"smear_{unit}", found, "less than the length")
        if self.beam is not None and (self.beam.pulse_mm is not None) != (unit == "mm"):
            raise _refused("beam", f"lengths in {other}", f"lengths in {unit}")
        return self

    @property
    def unit(self) -> Literal["mm", "px"]:
        """The unit of its lengths."""
        return "px" if self.scale_px_per_mm is None else "mm"

    @property
    def area(self) -> Measured:
        """The area of one part, in the square of `unit`."""
        one = self.area_mm2 or self.area_px2
        assert one is not None
        return one

    @property
    def length(self) -> Measured:
        """The length of one part along the fall, in `unit`."""
        one = self.length_mm or self.length_px
        assert one is not None
        return one

    @property
    def gyration(self) -> Measured:
        """The radius of gyration in the plane of the picture, in `unit`, without the smear."""
        one = self.gyration_mm or self.gyration_px
        assert one is not None
        return one

    @property
    def smear(self) -> float:
        """By how much the exposure made parts longer, in `unit`."""
        return (self.smear_px if self.scale_px_per_mm is None else self.smear_mm) or 0.0


def _one_unit(section: Section, names: tuple[str, ...], unit: str) -> None:
    """Refuse a section that lacks a length in `unit`, or has one in the other unit."""
    other = "mm" if unit == "px" else "px"
    for name in names:
        power = "2" if name == "area" else ""
        wanted, unwanted = f"{name}_{unit}{power}", f"{name}_{other}{power}"
        if getattr(section, unwanted) is not None:
            raise _refused(unwanted, f"a measure in {other}", f"{unit} as in the other keys")
        if getattr(section, wanted) is None:
            raise _refused(wanted, "nothing", f"a measure in {unit}")
