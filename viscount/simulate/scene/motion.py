"""How parts move once they are let go."""

import math
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from viscount.simulate.scene.lamp import LampInView
from viscount.simulate.scene.model import (
    Count,
    Finite,
    Model,
    NotNegative,
    Percent,
    Positive,
    Share,
)

G_MM_S2 = 9806.65
"""Standard gravity, CGPM 1901."""


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

    `spread_mm` and `drift_spread_mm_s` are standard deviations across the fall,
    `depth_spread_mm` the one towards the camera and away from it.
    """

    positions_mm: Annotated[tuple[Finite, ...], Field(min_length=1)] = (0.0,)
    spread_mm: NotNegative = 0.0
    drift_spread_mm_s: NotNegative = 0.0
    depth_spread_mm: NotNegative = 0.0


class Turning(Model):
    """How a part lies and turns as it leaves the lip; spreads are standard deviations.

    From its own pose (see the part) it is rolled about its own axis, then leant, the leading
    end towards the camera (`tilt`), then turned in the plane of the picture (`angle`): looked at
    with the fall downwards, the leading end of a part turns to the right. From then on it turns
    freely, as a symmetrical top does, from the rates of these three turns as it leaves: in the
    plane of the picture (`spin`), end over end towards the camera (`tumble`) and about its own
    axis (`twist`). A box has its angle and its spin only.
    """

    angle_deg: Finite = 0.0
    angle_spread_deg: NotNegative = 0.0
    tilt_deg: Finite = 0.0
    tilt_spread_deg: NotNegative = 0.0
    roll_deg: Finite = 0.0
    roll_spread_deg: NotNegative = 0.0
    spin_deg_s: Finite = 0.0
    spin_spread_deg_s: NotNegative = 0.0
    tumble_deg_s: Finite = 0.0
    tumble_spread_deg_s: NotNegative = 0.0
    twist_deg_s: Finite = 0.0
    twist_spread_deg_s: NotNegative = 0.0


class Bounce(Model):
    """Some parts bounce back up from something hard below the line.

    Every part whose number is in `parts` turns round where its centre of mass is `below_lip_mm`
    below the lip, and leaves it upwards with `restitution` times the speed it came with, once;
    it turns on as before, and when it has come down again it falls past the place.
    """

    below_lip_mm: Positive
    parts: tuple[Count, ...]
    restitution: Share = 0.5


class Stuck(Model):
    """A part of the pour that sticks at a place for some time, then falls on from rest.

    While it sticks, and from then on, it neither turns nor drifts. On a belt it goes on with the
    belt's speed. It holds up no other part.
    """

    part: Count
    below_lip_mm: Positive
    for_ms: Positive


class Cycle(Model):
    """One opening of the gate: commanded open at `open_ms`, shut at `shut_ms`."""

    open_ms: Finite
    shut_ms: Finite


class Gate(Model):
    """The solenoid gate: a blade that sweeps in from the left at `below_lip_mm`.

    It first enters the stream `reach_ms` after the command to shut and has closed it for good
    after `shut_takes_ms`; `spread_ms` is the standard deviation of both. The stream is as wide
    as its parts are at the lip. With a rebound the blade is across a little earlier, springs
    back by `rebound_percent` of the stream, and is shut, the rebound over, after the same time.
    A part that the blade's edge meets from the side, or that comes while the edge is between
    its two sides, is pinched; one that comes later is held: it lies on the blade, or on the
    parts that lie there, and falls from rest when the gate opens again and withdraws past its
    middle, `open_takes_ms` after the command at the latest. The blade stands open before the
    first cycle, and shut after the last. Times count from the start of the scene's first pour.
    A `lamp` is wired to the coil, which opens the gate against a spring: it is lit from each
    command to open to the next one to shut, and before the first one.
    """

    below_lip_mm: Positive
    reach_ms: NotNegative = 10.0
    shut_takes_ms: Positive = 15.0
    open_takes_ms: NotNegative = 10.0
    spread_ms: NotNegative = 0.0
    rebound_percent: Percent = 0.0
    thickness_mm: Positive = 1.0
    visible: bool = True
    grey: Annotated[float, Field(ge=0, le=255)] = 60.0
    lamp: LampInView | None = None
    cycles: Annotated[tuple[Cycle, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.shut_takes_ms <= self.reach_ms:
            raise ValueError("shut_takes_ms must be above reach_ms")
        times = [t for cycle in self.cycles for t in (cycle.open_ms, cycle.shut_ms)]
        if any(late <= early for early, late in pairwise(times)):
            raise ValueError("cycles must follow one another, each with open_ms before shut_ms")
        return self
