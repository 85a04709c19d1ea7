"""The light, and how it changes."""

from typing import Annotated

from pydantic import Field

from viscount.simulate.scene.model import Finite, Model, Percent, Positive


class Step(Model):
    """A lasting change of the light at once; `percent` of the light before it."""

    at_s: Finite
    percent: Annotated[float, Field(gt=-100, allow_inf_nan=False)]


class Pulsed(Model):
    """A lamp dimmed by switching: on for the share `duty` of each period, `hz` times a second.

    `depth_percent` of the light comes from it. Its mean stays the scene's light.
    """

    hz: Positive
    duty: Annotated[float, Field(gt=0, lt=1)] = 0.5
    depth_percent: Percent = 100.0


class AutoExposure(Model):
    """A camera that lengthens its exposure as the light falls, to keep the picture's level.

    It follows the light with `time_constant_s`, up to `longest_exposure_us`; an exposure that
    is longer than the frame interval lengthens that too.
    """

    time_constant_s: Positive = 0.3
    longest_exposure_us: Positive = 33_000.0


class Light(Model):
    """The light relative to the scene's.

    It flickers as 1 + percent/100 sin(2 pi hz t) (a lamp on the mains does so at twice the
    mains' frequency), is pulsed, steps, and drifts evenly by `drift_percent_per_s`.
    """

    flicker_percent: Percent = 0.0
    flicker_hz: Positive = 100.0
    pulsed: Pulsed | None = None
    steps: tuple[Step, ...] = ()
    drift_percent_per_s: Finite = 0.0
    auto_exposure: AutoExposure | None = None
