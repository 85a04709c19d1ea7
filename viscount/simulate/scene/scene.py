"""The scene of a simulated pour: what falls, how it is let go, and what looks at it.

Every key carries its unit. `along` is measured down from the lip along the fall, `across` from
the middle of the view at right angles to it. A scene is checked when it is made: unknown keys
and values out of range are refused.
"""

from typing import Annotated, Self

from pydantic import Field, model_validator

from viscount.simulate.scene.beam import Beam
from viscount.simulate.scene.light import Light
from viscount.simulate.scene.model import Finite, Model, NotNegative, Positive
from viscount.simulate.scene.motion import (
    Belt,
    Bounce,
    FreeFall,
    Gate,
    Lanes,
    Motion,
    Stuck,
    Turning,
)
from viscount.simulate.scene.part import AnyPart, Part
from viscount.simulate.scene.recording import Recording
from viscount.simulate.scene.release import Column, Release
from viscount.simulate.scene.surroundings import Surroundings
from viscount.simulate.scene.view import Camera, View
from viscount.values import Marks


class Scene(Model):
    """A whole pour, or several. Part k of them has the shape `parts[k modulo their number]`.

    Attributes
    ----------
    name, about : what it is called, and what it is there to show.
    pours_ms : the starts of its pours; each lets the whole of `release` go once more. Parts are
        numbered on from pour to pour.
    lead_in_s : time from the first frame to the start of the first pour; negative where the
        clip begins in mid-stream.
    tail_s : time in the clip after the last part has left the view; negative cuts it short.
    duration_s : length of the clip, or None to let `tail_s` decide.
    lip_speed_mm_s : speed at the lip. A column and a belt bring their own.
    lip_speed_spread_percent : its standard deviation from part to part.
    bound : whether the truth holds the least error that any estimator of crossing times can
        have (rigid parts that do not turn, global shutter, pixels kept, steady light).
    """

    name: str = "pour"
    about: str = ""
    seed: Annotated[int, Field(ge=0)] = 1
    parts: Annotated[tuple[Part, ...], Field(min_length=1)]
    release: Release
    pours_ms: Annotated[tuple[Finite, ...], Field(min_length=1)] = (0.0,)
    motion: Motion = FreeFall()
    lip_speed_mm_s: NotNegative = 0.0
    lip_speed_spread_percent: Annotated[float, Field(ge=0, le=30)] = 0.0
    lanes: Lanes = Lanes()
    turning: Turning = Turning()
    bounce: Bounce | None = None
    stuck: tuple[Stuck, ...] = ()
    gate: Gate | None = None
    view: View = View()
    camera: Camera = Camera()
    light: Light = Light()
    recording: Recording = Recording()
    surroundings: Surroundings = Surroundings()
    beam: Beam | None = None
    lead_in_s: Finite = 0.5
    tail_s: Finite = 0.25
    duration_s: Positive | None = None
    bound: bool = False

    @model_validator(mode="after")
    def _one_lip_speed(self) -> Self:
        own = isinstance(self.release, Column) or isinstance(self.motion, Belt)
        if own and self.lip_speed_mm_s:
            raise ValueError("lip_speed_mm_s must be 0 where a column or a belt sets the speed")
        return self

    @model_validator(mode="after")
    def _parts_named_exist(self) -> Self:
        named = [s.part for s in self.stuck] + list(self.bounce.parts if self.bounce else ())
        if any(part >= self.count for part in named):
            raise ValueError(f"part {max(named)} is stuck or bounces, of {self.count} parts")
        return self

    @model_validator(mode="after")
    def _fit_for_a_bound(self) -> Self:
        turns = self.turning
        rates = (turns.spin_deg_s, turns.tumble_deg_s, turns.twist_deg_s)
        spreads = (turns.spin_spread_deg_s, turns.tumble_spread_deg_s, turns.twist_spread_deg_s)
        global_shutter = self.camera.readout == "global" or not self.camera.line_time_us
        kept = self.recording.codec == "ffv1" and not self.recording.rounded_to_us
        if self.bound and (any(rates) or any(spreads) or not global_shutter or not kept):
            raise ValueError(
                "a bound needs parts that do not turn, a global shutter, codec ffv1 and times "
                "that are not rounded"
            )
        return self

    @model_validator(mode="after")
    def _read_out_before_the_next_frame(self) -> Self:
        camera, view = self.camera, self.view
        lines = {"down": view.height_px, "up": view.height_px, "global": 0}
        readout_us = camera.line_time_us * lines.get(camera.readout, view.width_px)
        if readout_us > 1e6 / camera.fps:
            raise ValueError(
                f"camera.line_time_us makes a readout of {readout_us:.0f} us, longer than the "
                f"frame interval of {1e6 / camera.fps:.0f} us"
            )
        return self

    @model_validator(mode="after")
    def _exposure_that_changes_is_marked_in_its_middle(self) -> Self:
        if self.light.auto_exposure and self.camera.marks is not Marks.MIDDLE:
            raise ValueError("auto_exposure needs camera.marks: middle")
        return self

    @property
    def count(self) -> int:
        """How many parts are let go."""
        return self.release.count * len(self.pours_ms)

    def part(self, k: int) -> AnyPart:
        """Return the shape of part `k`."""
        return self.parts[k % len(self.parts)]
