"""What is in the view and is no part of the pour, and what shakes it."""

from typing import Annotated, Literal

from pydantic import Field

from viscount.simulate.scene.model import Count, Finite, Grey, Model, NotNegative, Positive


class Resting(Model):
    """A part that lies still in the view for some time and is no part of the pour."""

    along_px: Finite
    across_px: Finite
    from_s: Finite = 0.0
    until_s: Finite


class Texture(Model):
    """A background that is not even: soft blotches of `grain_px`, `contrast` grey in sigma.

    It moves by `speed_px_s` along the fall.
    """

    contrast: NotNegative = 10.0
    grain_px: Annotated[float, Field(ge=1)] = 12.0
    speed_px_s: Finite = 0.0


class Feeder(Model):
    """The camera is shaken by the feeder: a steady vibration in both directions."""

    hz: Positive = 50.0
    amplitude_px: NotNegative = 0.5


class Blow(Model):
    """The gate's blow: the camera rings from `at_s` on and comes to rest."""

    at_s: Finite
    amplitude_px: NotNegative = 2.0
    hz: Positive = 60.0
    decay_s: Positive = 0.05


class Bag(Model):
    """The bag below: its rim reaches up to `rim_px` along the fall and sways."""

    rim_px: Finite
    grey: Grey = 120.0
    sway_px: NotNegative = 3.0
    sway_hz: Positive = 1.5


class Intruder(Model):
    """A hand or an insect: `size_px` across, it passes through the view in a straight line.

    A hand comes in from the side and goes out again the same way; an insect flies on, on a
    wavering path. Positions are image coordinates along and across the fall.
    """

    kind: Literal["hand", "insect"]
    from_s: Finite
    until_s: Finite
    size_px: Positive
    along_px: Finite
    grey: Grey = 70.0
    towards_along_px: Finite | None = None


class Dust(Model):
    """Specks of `size_px` that sink slowly through the view."""

    count: Count = 5
    size_px: Positive = 2.0
    speed_px_s: Finite = 60.0
    grey: Grey = 120.0


class Surroundings(Model):
    """Everything in the view that is no part of the pour."""

    resting: tuple[Resting, ...] = ()
    texture: Texture | None = None
    feeder: Feeder | None = None
    blows: tuple[Blow, ...] = ()
    bag: Bag | None = None
    intruders: tuple[Intruder, ...] = ()
    dust: Dust | None = None
