"""The trend of the speeds against scipy.stats.theilslopes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from viscount.motion.trend import trend

speeds = st.lists(st.floats(100.0, 9000.0), min_size=5, max_size=24)


@given(speed=speeds, seed=st.integers(0, 2**32 - 1))
def test_the_trend_is_that_of_theil_and_sen(speed: list[float], seed: int):
    t_s = np.sort(np.random.default_rng(seed).uniform(0.0, 2.0, len(speed)))
    slope, level = trend(t_s, np.array(speed))
    found = theilslopes(speed, t_s)
    assert slope == pytest.approx(found[0], rel=1e-9, abs=1e-9)
    assert level == pytest.approx(found[1], rel=1e-9, abs=1e-6)


def test_parts_of_one_frame_are_left_out():
    t_s, speed = np.array([0.0, 0.0, 1.0, 1.0, 2.0]), np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    assert trend(t_s, speed)[0] == pytest.approx(theilslopes(speed, t_s)[0])


def test_few_and_those_of_one_moment_have_a_level_alone():
    speed = np.array([1.0, 2.0, 4.0, 9.0])
    assert trend(np.arange(3.0), speed[:3]) == (0.0, 2.0)
    assert trend(np.zeros(4), speed) == (0.0, 3.0)
