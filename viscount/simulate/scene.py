"""The scene of a simulated pour: what falls, how it is let go, and what looks at it.

Every key carries its unit. `along` is measured down from the lip along the fall, `across` from
the middle of the view at right angles to it. A scene is checked when it is made: unknown keys
and values out of range are refused.
"""

import math
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from viscount.simulate.model import Finite, Grey, Model, NotNegative, Positive
from viscount.simulate.part import AnyPart, Part
from viscount.values import Falls, Marks

G_MM_S2 = 9806.65
"""Standard gravity, CGPM 1901."""

# How it is let go


class Column(Model):
    """A stack of parts that slides out of a magazine as one.

    Part n, counted from 1, leaves after the column has moved n pitches from rest.
    """

    kind: Literal["column"] = "column"
    count: Annotated[int, Field(ge=0)]
    pitch_mm: Positive
    acceleration_mm_s2: Positive
    jitter_ms: NotNegative = 0.0


class Escapement(Model):
    """One part at a time, at a regular interval."""

    kind: Literal["escapement"] = "escapement"
    count: Annotated[int, Field(ge=0)]
    interval_ms: Positive
    jitter_ms: NotNegative = 0.0


class Poisson(Model):
    """Parts at random, never closer in time than `least_interval_ms`."""

    kind: Literal["poisson"] = "poisson"
    count: Annotated[int, Field(ge=0)]
    mean_interval_ms: Positive
    least_interval_ms: NotNegative = 0.0

    @model_validator(mode="after")
    def _mean_above_least(self) -> Self:
        if self.mean_interval_ms <= self.least_interval_ms:
            raise ValueError("mean_interval_ms must be above least_interval_ms")
        return self


class Times(Model):
    """Stated times after the start of the pour."""

    kind: Literal["times"] = "times"
    times_ms: tuple[Finite, ...]

    @property
    def count(self) -> int:
        """How many parts are let go."""
        return len(self.times_ms)


Release = Annotated[Column | Escapement | Poisson | Times, Field(discriminator="kind")]


# How it moves


class FreeFall(Model):
    """Fall under gravity with drag in proportion to the square of the speed.

    `drag_per_m` is the deceleration by drag divided by speed squared: 0.098 /m takes 4 % off
    gravity at 2 m/s.
    """

    kind: Literal["free_fall"] = "free_fall"
    gravity_mm_s2: Positive = G_MM_S2
    drag_per_m: NotNegative = 0.0


class Slide(Model):
    """A chute: g (sin incline - friction cos incline)."""

    kind: Literal["slide"] = "slide"
    gravity_mm_s2: Positive = G_MM_S2
    incline_deg: Annotated[float, Field(ge=0, le=90)]
    friction: NotNegative = 0.0

    @property
    def acceleration_mm_s2(self) -> float:
        """Acceleration along the chute."""
        incline = math.radians(self.incline_deg)
        return self.gravity_mm_s2 * (math.sin(incline) - self.friction * math.cos(incline))


class Belt(Model):
    """A belt: every part at the same steady speed."""

    kind: Literal["belt"] = "belt"
    speed_mm_s: Positive


Motion = Annotated[FreeFall | Slide | Belt, Field(discriminator="kind")]


class Lanes(Model):
    """Where parts fall across the view. Part k takes lane k modulo their number.

    `spread_mm` and `drift_spread_mm_s` are standard deviations.
    """

    positions_mm: Annotated[tuple[Finite, ...], Field(min_length=1)] = (0.0,)
    spread_mm: NotNegative = 0.0
    drift_spread_mm_s: NotNegative = 0.0


class Turning(Model):
    """Rotation in the plane of the picture; spreads are standard deviations.

    Looked at with the fall downwards, the leading end of a part turns to the right.
    """

    angle_deg: Finite = 0.0
    angle_spread_deg: NotNegative = 0.0
    spin_deg_s: Finite = 0.0
    spin_spread_deg_s: NotNegative = 0.0


class Resting(Model):
    """A part that lies still in the view for some time and is no part of the pour."""

    along_px: Finite
    across_px: Finite
    from_s: Finite = 0.0
    until_s: Finite


# What looks at it


class View(Model):
    """What the picture shows.

    `lip_px` and `line_px` are image coordinates along the fall, `centre_px` the coordinate of
    the middle lane across it (None for the middle of the picture).
    """

    width_px: Annotated[int, Field(ge=4, le=8192)] = 160
    height_px: Annotated[int, Field(ge=4, le=8192)] = 480
    scale_px_per_mm: Positive = 4.0
    falls: Falls = Falls.DOWN
    lip_px: Finite = -40.0
    line_px: Finite = 300.0
    centre_px: Finite | None = None


class Camera(Model):
    """The camera. `blur_px` is the sigma of its lens, `noise` the sigma of its grey levels.

    `readout` is the direction in the picture in which lines are exposed one after another,
    `marks` the moment of the first line's exposure that a frame's time speaks of.
    """

    fps: Positive = 120.0
    exposure_us: NotNegative = 200.0
    readout: Literal["down", "up", "left", "right", "global"] = "global"
    line_time_us: NotNegative = 0.0
    marks: Literal[Marks.START, Marks.MIDDLE, Marks.END] = Marks.MIDDLE
    noise: NotNegative = 2.0
    background_grey: Grey = 190.0
    part_grey: Grey = 40.0
    blur_px: NotNegative = 0.0

    @model_validator(mode="after")
    def _exposure_within_frame(self) -> Self:
        if self.exposure_us > 1e6 / self.fps:
            raise ValueError("exposure_us must not be longer than the frame interval")
        return self


class Step(Model):
    """A lasting change of the light at once; `percent` of the light before it."""

    at_s: Finite
    percent: Annotated[float, Field(gt=-100, allow_inf_nan=False)]


class Light(Model):
    """Light that flickers as 1 + percent/100 sin(2 pi hz t), and steps."""

    flicker_percent: Annotated[float, Field(ge=0, le=100)] = 0.0
    flicker_hz: Positive = 100.0
    steps: tuple[Step, ...] = ()


class Faults(Model):
    """What goes wrong with frames; numbers count from the camera's first frame, 0.

    A dropped frame never arrives; a repeated one shows the picture of the frame before it.
    """

    dropped: tuple[Annotated[int, Field(ge=0)], ...] = ()
    repeated: tuple[Annotated[int, Field(ge=1)], ...] = ()


class Beam(Model):
    """A light barrier across the fall.

    With `sees: projection` it runs in the plane of the picture and any part in any lane blocks
    it over its whole length; with `sees: spot` it runs along the camera's axis at `across_mm`,
    so that it can pass a bore. It switches when the fraction `threshold` of its light is lost,
    and tells the time by its own clock: at the first frame that clock shows `offset_s`.
    """

    below_lip_mm: Finite
    width_mm: Positive
    sees: Literal["projection", "spot"] = "projection"
    across_mm: Finite = 0.0
    threshold: Annotated[float, Field(gt=0, lt=1)] = 0.5
    operate_us: NotNegative = 0.0
    release_us: NotNegative = 0.0
    offset_s: NotNegative = 0.0
    drift_ppm: Finite = 0.0


class Scene(Model):
    """A whole pour. Part k of it has the shape `parts[k modulo their number]`.

    Attributes
    ----------
    lead_in_s : time from the first frame to the start of the pour; negative where the clip
        begins in mid-stream.
    tail_s : time in the clip after the last part has left the view; negative cuts it short.
    duration_s : length of the clip, or None to let `tail_s` decide.
    lip_speed_mm_s : speed at the lip. A column and a belt bring their own.
    lip_speed_spread_percent : its standard deviation from part to part.
    """

    name: str = "pour"
    seed: Annotated[int, Field(ge=0)] = 1
    parts: Annotated[tuple[Part, ...], Field(min_length=1)]
    release: Release
    motion: Motion = FreeFall()
    lip_speed_mm_s: NotNegative = 0.0
    lip_speed_spread_percent: Annotated[float, Field(ge=0, le=30)] = 0.0
    lanes: Lanes = Lanes()
    turning: Turning = Turning()
    resting: tuple[Resting, ...] = ()
    view: View = View()
    camera: Camera = Camera()
    light: Light = Light()
    faults: Faults = Faults()
    beam: Beam | None = None
    lead_in_s: Finite = 0.5
    tail_s: Finite = 0.25
    duration_s: Positive | None = None

    @model_validator(mode="after")
    def _one_lip_speed(self) -> Self:
        own = isinstance(self.release, Column) or isinstance(self.motion, Belt)
        if own and self.lip_speed_mm_s:
            raise ValueError("lip_speed_mm_s must be 0 where a column or a belt sets the speed")
        return self

    @property
    def count(self) -> int:
        """How many parts are let go."""
        return self.release.count

    def part(self, k: int) -> AnyPart:
        """Return the shape of part `k`."""
        return self.parts[k % len(self.parts)]
