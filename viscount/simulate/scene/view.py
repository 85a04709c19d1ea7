"""What the picture shows, and the camera that takes it."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from viscount.simulate.scene.model import Finite, Grey, Model, NotNegative, Positive
from viscount.values import Falls, Marks


class View(Model):
    """What the picture shows.

    `lip_px` and `line_px` are image coordinates along the fall, `centre_px` the coordinate of
    the middle lane across it (None for the middle of the picture). They and `scale_px_per_mm`
    hold at the middle of the picture in the plane of the lanes; `distance_mm` from there to the
    camera (None: from afar), `tilt_deg` by which its axis nods downstream, and `roll_deg` by
    which the picture is turned against the fall bend the rest.
    """

    width_px: Annotated[int, Field(ge=4, le=8192)] = 160
    height_px: Annotated[int, Field(ge=4, le=8192)] = 480
    scale_px_per_mm: Positive = 4.0
    falls: Falls = Falls.DOWN
    lip_px: Finite = -40.0
    line_px: Finite = 300.0
    centre_px: Finite | None = None
    distance_mm: Annotated[float, Field(ge=20, allow_inf_nan=False)] | None = None
    tilt_deg: Annotated[float, Field(ge=-30, le=30)] = 0.0
    roll_deg: Annotated[float, Field(ge=-15, le=15)] = 0.0


class Camera(Model):
    """The camera.

    Attributes
    ----------
    readout : direction in the picture in which lines are exposed one after another, all of them
        before the next frame begins.
    marks : the moment of the first line's exposure that a frame's time speaks of.
    noise : sigma of the grey levels that reading adds.
    shot_noise : variance, in grey squared, for each grey level of light.
    gamma : levels delivered go as light to the power 1/gamma; full light stays 255.
    blur_px : sigma of the lens.
    """

    fps: Positive = 120.0
    exposure_us: NotNegative = 200.0
    readout: Literal["down", "up", "left", "right", "global"] = "global"
    line_time_us: NotNegative = 0.0
    marks: Literal[Marks.START, Marks.MIDDLE, Marks.END] = Marks.MIDDLE
    noise: NotNegative = 2.0
    shot_noise: NotNegative = 0.0
    gamma: Annotated[float, Field(ge=0.2, le=5)] = 1.0
    background_grey: Grey = 190.0
    part_grey: Grey = 40.0
    blur_px: NotNegative = 0.0

    @model_validator(mode="after")
    def _exposure_within_frame(self) -> Self:
        if self.exposure_us > 1e6 / self.fps:
            raise ValueError("exposure_us must not be longer than the frame interval")
        return self
