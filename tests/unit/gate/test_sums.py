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


def test_a_doubt_of_the_count_matters_as_far_as_the_part_is_in() -> None:
    found = sum_of(np.full((2, 1), 0.5), np.array([2]), np.array([0.2]))
    assert [found.of(k) for k in (0, 1, 2, 3)] == pytest.approx([0.5, 0.05, 0.4, 0.05])


def test_parts_that_are_in_for_sure_only_add() -> None:
    surely = np.array([1, 2, 1]), np.array([0.0, 0.2, 0.0])
    found = sum_of(np.empty((2, 0)), np.empty(0, dtype=np.int64), np.empty(0), surely)
    assert [found.of(k) for k in (3, 4, 5)] == pytest.approx([0.1, 0.8, 0.1])


def test_clumps_come_in_whole() -> None:
    found = sum_of(np.full((1, 2), 0.5), np.array([2, 3]), np.zeros(2))
    assert {k for k in range(8) if found.of(k) > 0} == {0, 2, 3, 5}
