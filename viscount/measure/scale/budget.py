"""The budget of an uncertainty, as JCGM 100 asks for it.

Each input adds its own share; together they are their root sum of squares (5.1.2). Inputs that
were estimated from few observations make the result's own degrees of freedom few (Welch and
Satterthwaite, G.4.1), and the 95 % interval wider by Student's t (G.3.2).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scipy.stats import t as student

CONFIDENCE: Final = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One input of a budget.

    Attributes
    ----------
    name : in words for the packer.
    u : standard uncertainty that it adds to the result, in the result's unit (sensitivity times
        its own), >= 0.
    freedom : degrees of freedom behind it; infinite where it is a bound and no statistic.
    """

    name: str
    u: float
    freedom: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """All inputs of one result."""

    inputs: tuple[Input, ...]

    @property
    def u(self) -> float:
        """Combined standard uncertainty; inputs taken as uncorrelated (JCGM 100, equation 10)."""
        return math.sqrt(math.fsum(one.u**2 for one in self.inputs))

    @property
    def freedom(self) -> float:
        """Effective degrees of freedom (JCGM 100, equation G.2b); infinite for an exact result."""
        below = math.fsum(one.u**4 / one.freedom for one in self.inputs)
        return self.u**4 / below if below > 0 else math.inf

    @property
    def expanded(self) -> float:
        """Half-width of the 95 % interval."""
        return coverage_factor(self.freedom) * self.u

    @property
    def dominant(self) -> Input | None:
        """The input that adds most; None where there is none."""
        return max(self.inputs, key=lambda one: one.u, default=None)

    def scaled(self, factor: float) -> "Budget":
        """Return the budget of the result times a factor."""
        return Budget(
            inputs=tuple(
                Input(name=one.name, u=abs(factor) * one.u, freedom=one.freedom)
                for one in self.inputs
            )
        )


def coverage_factor(freedom: float, confidence: float = CONFIDENCE) -> float:
    """Return Student's t for a two-sided interval; degrees of freedom are cut to a whole number
    (JCGM 100, G.4.1 note 1), at least 1."""
    whole = math.inf if math.isinf(freedom) else max(math.floor(freedom + 1e-9), 1)
    return float(student.ppf(0.5 + 0.5 * confidence, whole if math.isfinite(whole) else 1e9))


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of what lies anywhere within +- `half_width` (4.3.7)."""
    return half_width / math.sqrt(3.0)


def triangular(half_width: float) -> float:
    """Return that of what lies there, and rather in the middle (4.3.9)."""
    return half_width / math.sqrt(6.0)


def resolution(step: float) -> float:
    """Return the standard uncertainty that rounding to steps leaves (F.2.2.1)."""
    return rectangular(0.5 * step)


def mean_of(values: Sequence[float]) -> tuple[float, Input]:
    """Return the mean of repeated observations, and what their scatter leaves unsure (4.2).

    Raises
    ------
    ValueError : fewer than two.
    """
    n = len(values)
    if n < 2:
        raise ValueError("no scatter can be told from fewer than two observations")
    mean = math.fsum(values) / n
    variance = math.fsum((v - mean) ** 2 for v in values) / (n - 1)
    return mean, Input(name="scatter", u=math.sqrt(variance / n), freedom=n - 1)
