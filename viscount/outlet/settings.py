"""The outlet file: the machine, its view and its sensors.

Every key is optional; None where it is not given. Units are in the keys' names. `lip_px`,
`line_px` and `at_px` are image coordinates along the fall: y where parts fall down or up, x
where they go left or right. They may lie outside the picture.
"""

from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, Any, Self

from pydantic import AfterValidator, Field, model_validator

from viscount.outlet.keys import ONE_OF, Section, contradiction, key
from viscount.outlet.part import Part
from viscount.values import Falls

Box = tuple[int, int, int, int]
"""(x0, y0, x1, y1) in px, half-open."""

_FREE_FALL_MM_S2 = (4900.0, 9900.0)
"""From half of standard gravity, for parts with much drag, to a little above the pole's."""

_METRES = (9.7, 9.9)
"""Nobody's chute is this slow: it is gravity in m/s²."""


class Readout(StrEnum):
    """The direction in the picture in which the sensor is read, or all of it at once."""

    DOWN = "down"
    UP = "up"
    LEFT = "left"
    RIGHT = "right"
    GLOBAL = "global"


class MotionKind(StrEnum):
    """How parts move through the view."""

    FREE_FALL = "free_fall"
    SLIDE = "slide"
    BELT = "belt"


def _ordered(box: Box) -> Box:
    x0, y0, x1, y1 = box
    if x0 >= x1 or y0 >= y1:
        raise contradiction(
            "",
            f"{list(box)} holds no pixel",
            allowed="x0 smaller than x1, and y0 smaller than y1",
            remedy="give the upper left corner, then the lower right one",
        )
    return box


def _plugin_name(name: str) -> str:
    if not all(c.isascii() and (c.islower() or c.isdigit() or c == "-") for c in name):
        raise contradiction(
            "",
            f"the name {name!r}",
            allowed="lower case letters, digits and hyphens",
            remedy="`viscount plugins` lists the names",
        )
    return name


Place = Annotated[float, Field(strict=True, ge=-1e6, le=1e6)]
Distance = Annotated[float, Field(strict=True, ge=-10_000, le=10_000)]
Corner = Annotated[int, Field(strict=True, ge=0, le=1_000_000)]
Region = Annotated[tuple[Corner, Corner, Corner, Corner], AfterValidator(_ordered)]
PluginName = Annotated[
    str, Field(strict=True, min_length=1, max_length=100), AfterValidator(_plugin_name)
]
Scale = Annotated[float, Field(strict=True, gt=0, le=1000)]
Acceleration = Annotated[float, Field(strict=True, ge=0, le=20_000)]
Speed = Annotated[float, Field(strict=True, ge=0, le=100_000)]
Percent = Annotated[float, Field(strict=True, ge=0, le=100)]
FrameRate = Annotated[float, Field(strict=True, gt=0, le=100_000)]
Exposure = Annotated[float, Field(strict=True, gt=0, le=1_000_000)]
LineTime = Annotated[float, Field(strict=True, ge=0, le=10_000)]
BeamWidth = Annotated[float, Field(strict=True, gt=0, le=1000)]
PulseLength = Annotated[float, Field(strict=True, ge=0, le=1_000_000)]


class ViewSettings(Section):
    """What the camera looks at."""

    scale_px_per_mm: Scale | None = key(
        "Pixels for each millimetre, at the distance of the falling parts.", 4.0
    )
    falls: Falls | None = key("Where parts go in the picture: down, up, left or right.", "down")
    lip_px: Place | None = key("Where parts leave the outlet, along the fall.", 12.0)
    line_px: Place | None = key("The counting line, along the fall.", 180.0)
    region_px: Region | None = key(
        "The part of the picture that is looked at: [x0, y0, x1, y1], the last two excluded.",
        [40, 0, 280, 400],
    )
    lamp_px: Region | None = key(
        "A signal lamp in the picture: [x0, y0, x1, y1], the last two excluded.",
        [290, 10, 310, 30],
    )


class MotionSettings(Section):
    """How parts move."""

    kind: MotionKind | None = key(
        "free_fall; slide down a chute, at less than gravity; or belt, at one speed.", "free_fall"
    )
    acceleration_mm_s2: Acceleration | None = key("Along the fall.", 9806.65)
    speed_mm_s: Speed | None = key("Speed at the lip, or of the belt.", 300.0)
    speed_tolerance_percent: Percent | None = key("How far that speed may be off.", 10.0)

    @model_validator(mode="after")
    def _acceleration_fits_kind(self) -> Self:
        acceleration = self.acceleration_mm_s2
        if acceleration is None:
            return self
        found = f"{acceleration:g} mm/s²"
        if _METRES[0] <= acceleration <= _METRES[1]:
            raise contradiction(
                "acceleration_mm_s2",
                f"{found}, which looks like gravity in m/s²",
                allowed="mm/s²",
                remedy="write 9806.65 for free fall",
            )
        least, most = _FREE_FALL_MM_S2
        if self.kind is MotionKind.FREE_FALL and not least <= acceleration <= most:
            raise contradiction(
                "acceleration_mm_s2",
                f"{found} in free fall",
                allowed=f"{least:g} to {most:g} where kind is free_fall",
                remedy="gravity is 9806.65 mm/s²; a chute is kind: slide",
            )
        if self.kind is MotionKind.BELT and acceleration > 0:
            raise contradiction(
                "acceleration_mm_s2",
                f"{found} on a belt",
                allowed="0 where kind is belt",
                remedy="leave it out, or write kind: slide",
            )
        return self


class CameraSettings(Section):
    """What is known of the camera."""

    capture_fps: FrameRate | None = key(
        "Frames captured in a second; only where the file's own clock is not the capture's.",
        240.0,
    )
    exposure_us: Exposure | None = key("Exposure time.", 100.0)
    line_time_us: LineTime | None = key(
        "Time from one row (or column) to the next of a rolling shutter, in the delivered "
        "picture: after binning, scaling and rotation.",
        15.0,
    )
    readout: Readout | None = key(
        "Where the readout goes in the picture: down, up, left, right, or global.", "down"
    )

    @model_validator(mode="after")
    def _times_fit(self) -> Self:
        if self.readout is Readout.GLOBAL and self.line_time_us:
            raise contradiction(
                "line_time_us",
                f"{self.line_time_us:g} µs from line to line of a global shutter",
                allowed="0 where readout is global",
            )
        if self.capture_fps is not None and self.exposure_us is not None:
            interval_us = 1e6 / self.capture_fps
            if self.exposure_us > 1.01 * interval_us:
                raise contradiction(
                    "exposure_us",
                    f"an exposure of {self.exposure_us:g} µs, with a frame every "
                    f"{interval_us:.4g} µs",
                    allowed="at most the time between two frames",
                )
        return self


class DetectorSettings(Section):
    """What finds the parts in a frame."""

    name: PluginName | None = key("Which detector; `viscount plugins` lists them.", "difference")
    options: Mapping[str, Any] | None = key("The detector's own options.")


def _either(schema: dict[str, Any]) -> None:
    schema["oneOf"] = [
        {"required": [name], "properties": {name: {"not": {"type": "null"}}}} for name in ONE_OF
    ]


class _Placed(Section):
    """Something that stands at one height: below the lip in mm, or at a place in the picture."""

    @model_validator(mode="after")
    def _one_height(self) -> Self:
        given = [name for name in ONE_OF if getattr(self, name) is not None]
        if len(given) != 1:
            raise contradiction(
                given[-1] if given else "",
                " and ".join(given) + " together" if given else "no height",
                allowed="exactly one of " + " and ".join(ONE_OF),
                remedy="below_lip_mm is the better one: px change when the camera is nudged",
            )
        return self


class BeamSettings(_Placed, json_schema_extra=_either):
    """The light barrier. Leave the section out where its height is not known."""

    below_lip_mm: Distance | None = key("Along the fall from the lip, positive downstream.", 60.0)
    at_px: Place | None = key("Or: where it crosses the picture, along the fall.", 252.0)
    width_mm: BeamWidth | None = key("Width of the beam along the fall.", 1.0)
    min_pulse_us: PulseLength | None = key("The shortest interruption that counts.", 200.0)


class GateSettings(_Placed, json_schema_extra=_either):
    """The solenoid gate that cuts the stream."""

    name: PluginName | None = key("Which gate trigger; `viscount plugins` lists them.", "simulated")
    below_lip_mm: Distance | None = key("The blade, from the lip, positive downstream.", 90.0)
    at_px: Place | None = key("Or: where the blade is in the picture, along the fall.", 372.0)
    options: Mapping[str, Any] | None = key("The gate trigger's own options.")


class Outlet(Section):
    """An outlet: what an outlet file says."""

    view: ViewSettings = ViewSettings()
    motion: MotionSettings = MotionSettings()
    camera: CameraSettings = CameraSettings()
    detector: DetectorSettings = DetectorSettings()
    beam: BeamSettings | None = None
    gate: GateSettings | None = None
    part: Part | None = None

    @property
    def falls(self) -> Falls:
        """The direction of the fall; down where it is not given."""
        return self.view.falls or Falls.DOWN
