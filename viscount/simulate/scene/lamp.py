"""A lamp in view."""

from typing import Annotated

from pydantic import Field

from viscount.simulate.scene.model import Count, Grey, Model


class LampInView(Model):
    """A lamp in view: a box of the picture that is bright or dark."""

    left_px: Count
    top_px: Count
    width_px: Annotated[int, Field(ge=1)]
    height_px: Annotated[int, Field(ge=1)]
    lit_grey: Grey = 255.0
    dark_grey: Grey = 20.0
