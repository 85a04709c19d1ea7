"""Figures with as many digits as mean something."""

import math

import pytest

from viscount.cli.uncertain import significant, with_uncertainty


@pytest.mark.parametrize(
    ("value", "expanded", "said"),
    [
        (4.43512, 0.01234, "4.435 ±0.012"),
        (4.43512, 0.0996, "4.44 ±0.10"),
        (28.34, 4.6, "28.3 ±4.6"),
        (1452.6, 12.4, "1453 ±12"),
        (1452.6, 124.0, "1450 ±120"),
        (1452.6, 1240.0, "1500 ±1200"),
        (-0.0004, 0.02, "0.000 ±0.020"),
        (0.25, 0.99951, "0.2 ±1.0"),
        (7.0, 0.0, "7.00"),
        (7.0, math.inf, "7.00"),
        (math.nan, 0.1, "-"),
    ],
)
def test_the_uncertainty_has_two_digits(value: float, expanded: float, said: str) -> None:
    """JCGM 100, 7.2.6: at most two significant digits."""
    assert with_uncertainty(value, expanded) == said


@pytest.mark.parametrize(
    ("value", "said"),
    [(5.478, "5.48"), (0.0, "0"), (13417.0, "13400"), (-0.00261, "-0.00261"), (None, "-")],
)
def test_a_figure_alone_has_three(value: float | None, said: str) -> None:
    assert significant(value) == said
    assert significant(math.inf) == "-"
