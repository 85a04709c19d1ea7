"""Votes for an offset, and the matching by mutual nearness."""

import numpy as np
import pytest

from viscount.agreement.matching import mutual, nearest
from viscount.agreement.votes import peaks_us


def test_the_true_offset_has_most_votes():
    rng = np.random.default_rng(5)
    t = np.sort(rng.uniform(0, 2e6, 60))
    other = np.sort(
        np.concatenate([t[5:50] + 7e6 + rng.normal(0, 100, 45), rng.uniform(7e6, 9e6, 15)])
    )
    peaks = peaks_us(t, other, low_us=-1e7, high_us=1e7, width_us=600.0, most=3)
    assert peaks[0][0] == pytest.approx(7e6, abs=100)
    assert peaks[0][1] >= 44
    assert all(votes < 20 for _, votes in peaks[1:])


def test_a_regular_stream_votes_for_every_multiple():
    t = 25_000.0 * np.arange(20)
    peaks = peaks_us(t, t + 1e6, low_us=9e5, high_us=1.1e6, width_us=500.0, most=5)
    assert [votes for _, votes in peaks] == [20, 19, 19, 18, 18]


def test_limits_hold():
    t = 1e4 * np.arange(10.0)
    assert peaks_us(t, t + 5e6, low_us=0, high_us=4e6, width_us=10, most=3) == []


def test_nearest_finds_ends_and_ties():
    to = np.array([0.0, 10.0, 20.0])
    assert nearest(np.array([-5.0, 4.0, 6.0, 19.0, 99.0]), to).tolist() == [0, 0, 1, 2, 2]
    assert nearest(np.array([3.0]), np.array([7.0])).tolist() == [0]


def test_only_mutual_choices_within_reach_count():
    first, second = np.array([0.0, 1.0, 50.0]), np.array([0.9, 60.0])
    a, b = mutual(first, second, np.array([2.0, 2.0, 5.0]))
    assert (a.tolist(), b.tolist()) == ([1], [0])
    assert mutual(first, np.empty(0), np.ones(3))[0].size == 0
