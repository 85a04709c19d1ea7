"""Where beam and blade stand, and what makes a command late."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.errors import UsageError

Floats = NDArray[np.float64]

COVERAGE: Final = 2.0
"""Windows keep so many standard uncertainties clear at each end, about 95 % (JCGM 100, 6.2)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Heights downstream from the counting line, in the unit of the pours.

    Attributes
    ----------
    beam, blade : the blade is below the beam.
    sigma_beam, sigma_blade : their standard uncertainties.
    lip : where parts leave; None where unknown.
    """

    beam: float
    blade: float
    sigma_beam: float = 0.0
    sigma_blade: float = 0.0
    lip: float | None = None

    def __post_init__(self) -> None:
        if not self.beam < self.blade:
            raise UsageError(
                f"a beam {self.beam - self.blade:g} below the blade",
                allowed="a beam above the blade: it must see a part before the gate has to act",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lateness:
    """How much later than decided a command reaches the gate, in s.

    Attributes
    ----------
    least_s, most_s : anything between, alike often: the way through a serial line and a host.
    tick_s : the board's clock rounds a command up to whole ticks.
    jitter_s : standard deviation of what else there is, to both sides.
    """

    least_s: float = 0.0
    most_s: float = 0.0
    tick_s: float = 0.0
    jitter_s: float = 0.0

    def __post_init__(self) -> None:
        values = (self.least_s, self.most_s, self.tick_s, self.jitter_s)
        if not all(math.isfinite(v) and v >= 0 for v in values) or self.least_s > self.most_s:
            raise UsageError(
                f"a command that is late by {self.least_s:g} to {self.most_s:g} s",
                allowed="0 or more, the least before the most",
            )

    @property
    def earliest_s(self) -> float:
        """How late a command is at least, as far as windows go."""
        return self.least_s - COVERAGE * self.jitter_s

    @property
    def latest_s(self) -> float:
        """How late a command is at most, as far as windows go."""
        return self.most_s + self.tick_s + COVERAGE * self.jitter_s

    @property
    def varies(self) -> bool:
        """Whether two commands can differ."""
        return self.latest_s > self.earliest_s

    def drawn(self, rng: np.random.Generator, shape: tuple[int, ...]) -> Floats:
        """Return so many draws."""
        late: Floats = rng.uniform(self.least_s, self.most_s, shape)
        late += rng.uniform(0.0, self.tick_s, shape)
        late += self.jitter_s * rng.standard_normal(shape)
        return late
