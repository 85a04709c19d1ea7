"""The distribution of how many of several unsure parts are in."""

import numpy as np
import pytest
from scipy.stats import binom

from viscount.gate.sums import sum_of


def test_parts_that_are_alike_unsure_make_a_binomial() -> None:
    found = sum_of(np.full((3, 5), 0.3), np.ones(5, dtype=np.int64), np.zeros(5))
    for k in range(6):
        assert found.of(k) == pytest.approx(binom.pmf(k, 5, 0.3))
    assert found.of(-1) == found.of(9) == 0.0


def test_what_parts_share_moves_them_together() -> None:
    """In half of the draws all are in, in the other half none."""
    mass = np.repeat([[0.0], [1.0]], 4, axis=1)
    found = sum_of(mass, np.ones(4, dtype=np.int64), np.zeros(4))
    assert found.of(0) == found.of(4) == pytest.approx(0.5)
    assert found.about(4) == (0, 4)


def test_a_doubt_of_the_count_is_to_both_sides() -> None:
    found = sum_of(np.ones((2, 1)), np.array([3]), np.array([0.2]))
    assert [found.of(k) for k in (2, 3, 4)] == pytest.approx([0.1, 0.8, 0.1])
    assert found.chance.sum() == pytest.approx(1.0)
    assert found.about(3) == (2, 4)


def test_clumps_come_in_whole() -> None:
    found = sum_of(np.full((1, 2), 0.5), np.array([2, 3]), np.zeros(2))
    assert {k for k in range(8) if found.of(k) > 0} == {0, 2, 3, 5}
