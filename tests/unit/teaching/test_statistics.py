"""Robust figures of single parts."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from viscount.teaching.statistics import chance, measured, reaches_pairs

VALUES = st.lists(st.floats(0.1, 1e4), min_size=2, max_size=60)


@given(VALUES)
def test_percentiles_and_deviation_agree_with_scipy_and_numpy(values: list[float]):
    from scipy.stats import median_abs_deviation

    found = measured(values)
    assert found.median == pytest.approx(np.median(values), rel=1e-4)
    assert found.mad == pytest.approx(median_abs_deviation(values), rel=1e-4, abs=1e-9)
    assert found.p05 <= found.median <= found.p95


@given(st.integers(1, 200), st.data())
def test_chances_agree_with_scipys_wilson_interval(of: int, data: st.DataObject):
    parts = data.draw(st.integers(0, of))
    found = chance(parts, of)
    low, high = binomtest(parts, of).proportion_ci(0.95, method="wilson")
    assert (found.low, found.high) == (pytest.approx(low, abs=1e-4), pytest.approx(high, abs=1e-4))
    assert found.low <= found.chance <= found.high


def test_one_part_is_told_from_two_where_all_are_alike():
    assert reaches_pairs(np.linspace(9.0, 11.0, 24)) is None


def test_not_where_the_largest_is_as_large_as_two_small_ones():
    single, pair = reaches_pairs(np.array([5.0] * 12 + [11.0] * 12)) or (0.0, 0.0)
    assert (single, pair) == (11.0, 10.0)


@given(VALUES)
def test_the_scale_does_not_matter(values: list[float]):
    own = np.array(values)
    both = reaches_pairs(own), reaches_pairs(4.0 * own)
    assert (both[0] is None) == (both[1] is None)
