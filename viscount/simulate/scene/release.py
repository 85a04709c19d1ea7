"""How parts are let go."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from viscount.simulate.scene.model import Count, Finite, Model, NotNegative, Positive


class Column(Model):
    """A stack of parts that slides out of a magazine as one.

    Part n, counted from 1, leaves after the column has moved n pitches from rest.
    """

    kind: Literal["column"] = "column"
    count: Count
    pitch_mm: Positive
    acceleration_mm_s2: Positive
    jitter_ms: NotNegative = 0.0


class Escapement(Model):
    """One part at a time, at a regular interval."""

    kind: Literal["escapement"] = "escapement"
    count: Count
    interval_ms: Positive
    jitter_ms: NotNegative = 0.0


class Poisson(Model):
    """Parts at random, never closer in time than `least_interval_ms`."""

    kind: Literal["poisson"] = "poisson"
    count: Count
    mean_interval_ms: Positive
    least_interval_ms: NotNegative = 0.0

    @model_validator(mode="after")
    def _mean_above_least(self) -> Self:
        if self.mean_interval_ms <= self.least_interval_ms:
            raise ValueError("mean_interval_ms must be above least_interval_ms")
        return self


class Clumps(Model):
    """Groups of `size` parts at a regular interval; within one, parts follow at `within_ms`.

    The parts of a group lie `beside_mm` apart across the fall, so that a group of two can be a
    pair side by side (`within_ms` 0) or one behind the other (`beside_mm` 0). Every group has
    its size from `sizes` in turn: (2,) gives pairs, (1, 1, 3) two singles and a triple.
    """

    kind: Literal["clumps"] = "clumps"
    groups: Count
    sizes: Annotated[tuple[Annotated[int, Field(ge=1)], ...], Field(min_length=1)] = (2,)
    interval_ms: Positive
    within_ms: NotNegative = 0.0
    beside_mm: NotNegative = 0.0
    jitter_ms: NotNegative = 0.0

    @property
    def size_of(self) -> tuple[int, ...]:
        """The size of each group."""
        return tuple(self.sizes[g % len(self.sizes)] for g in range(self.groups))

    @property
    def count(self) -> int:
        """How many parts are let go."""
        return sum(self.size_of)


class Times(Model):
    """Stated times after the start of the pour."""

    kind: Literal["times"] = "times"
    times_ms: tuple[Finite, ...]

    @property
    def count(self) -> int:
        """How many parts are let go."""
        return len(self.times_ms)


Release = Annotated[Column | Escapement | Poisson | Clumps | Times, Field(discriminator="kind")]
