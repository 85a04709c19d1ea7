"""What all models of a scene share: they are frozen, and strict about what they are given."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(allow_inf_nan=False)]
Grey = Annotated[float, Field(ge=0, le=255)]
Percent = Annotated[float, Field(ge=0, le=100)]
Share = Annotated[float, Field(ge=0, le=1)]
Count = Annotated[int, Field(ge=0)]


class Model(BaseModel):
    """The base of all models here: frozen, and strict about unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")
