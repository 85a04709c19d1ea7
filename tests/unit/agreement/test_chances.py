"""Chances taken together."""

import numpy as np
import pytest
from scipy import stats

from viscount.agreement.chances import Chances, all_right, range_about


def test_all_right_is_the_product():
    assert all_right([Chances(0.1, 0.9, 0.0), Chances(0.0, 0.8, 0.2)]) == pytest.approx(0.72)
    assert all_right([]) == 1.0


def test_sure_counts_have_no_range():
    assert range_about(60, [Chances(0.0, 1.0, 0.0)] * 60) == (60, 60)


@pytest.mark.parametrize("more", [True, False])
def test_one_sided_doubts_give_a_binomial_range(more: bool):
    # Twenty counts, each wrong with 0.3 to one side: the sum of what is wrong is binomial.
    one = Chances(0.0, 0.7, 0.3) if more else Chances(0.3, 0.7, 0.0)
    low, high = range_about(100, [one] * 20)
    least, most = stats.binom.ppf([0.025, 0.975], 20, 0.3)
    expected = (100 + least, 100 + most) if more else (100 - most, 100 - least)
    assert (low, high) == (min(expected[0], 100), max(expected[1], 100))


def test_many_counts_stay_quick_and_exact():
    # 20,000 counts of variance 0.001 each: a normal distribution of variance 20.
    low, high = range_about(20_000, [Chances(0.0005, 0.999, 0.0005)] * 20_000)
    half = 1.96 * np.sqrt(20.0)
    assert abs(high - 20_000 - half) < 1.0
    assert abs(20_000 - low - half) < 1.0


def test_reversed_turns_the_sides():
    assert Chances(0.1, 0.7, 0.2).reversed == Chances(0.2, 0.7, 0.1)
