"""Curves through points by least squares, with the covariance of what they say (JCGM 100, H.3)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Curve:
    """A polynomial ``sum(c[k] x**k)``.

    Attributes
    ----------
    coefficients : (d + 1,), the constant first.
    covariance : (d + 1, d + 1), from the scatter about it.
    scatter : standard deviation of the points about it.
    freedom : points less coefficients.
    """

    coefficients: Floats
    covariance: Floats
    scatter: float
    freedom: int

    def at(self, x: float) -> tuple[float, float]:
        """Return its value and the standard uncertainty of that."""
        row = float(x) ** np.arange(self.coefficients.size)
        return float(row @ self.coefficients), float(np.sqrt(row @ self.covariance @ row))

    def slope_at(self, x: float) -> tuple[float, float]:
        """Return its slope and the standard uncertainty of that."""
        powers = np.arange(1, self.coefficients.size)
        row = np.concatenate([[0.0], powers * float(x) ** (powers - 1)])
        return float(row @ self.coefficients), float(np.sqrt(row @ self.covariance @ row))


def fit_curve(x: Floats, y: Floats, degree: int = 1) -> Curve:
    """Fit a polynomial by ordinary least squares.

    Raises
    ------
    ValueError : not more points than coefficients.
    """
    if x.size <= degree + 1:
        raise ValueError(f"{x.size} points for {degree + 1} coefficients")
    design = np.vander(x, degree + 1, increasing=True)
    solution, *_ = np.linalg.lstsq(design, y, rcond=None)
    left = y - design @ solution
    freedom = int(x.size - degree - 1)
    variance = float(left @ left) / freedom
    return Curve(
        coefficients=np.asarray(solution),
        covariance=np.asarray(variance * np.linalg.inv(design.T @ design)),
        scatter=float(np.sqrt(variance)),
        freedom=freedom,
    )
