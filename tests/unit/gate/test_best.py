"""The delay that lies in most intervals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.gate.best import best_delay

Ends = tuple[float, float]


def best(*intervals: Ends, from_s: float = 0.0):  # type: ignore[no-untyped-def]
    low, high = np.array(intervals).T
    return best_delay(low, high, from_s=from_s)


def test_the_middle_of_what_all_share() -> None:
    found = best((1.0, 5.0), (2.0, 6.0), (0.0, 4.0))
    assert (found.least_s, found.most_s, found.delay_s, found.chance) == (2.0, 4.0, 3.0, 1.0)


def test_most_where_not_all_share() -> None:
    found = best((1.0, 2.0), (1.5, 2.5), (4.0, 5.0), (9.0, 8.0))
    assert (found.least_s, found.most_s) == (1.5, 2.0)
    assert found.chance == 0.5


def test_nothing_is_commanded_before_it_is_known() -> None:
    assert best((-3.0, -1.0)) is None
    found = best((-3.0, 1.0), (-2.0, 4.0))
    assert (found.least_s, found.most_s, found.chance) == (0.0, 1.0, 1.0)
    assert best((2.0, 1.0)) is None


def test_ends_belong_to_the_interval() -> None:
    found = best((1.0, 2.0), (2.0, 3.0))
    assert (found.delay_s, found.chance) == (2.0, 1.0)


def test_one_stray_trial_in_many_does_not_narrow_the_stretch() -> None:
    many = [(0.0, 10.0)] * 1500 + [(4.0, 4.1)]
    found = best(*many)
    assert (found.least_s, found.most_s) == (0.0, 10.0)
    assert found.chance == pytest.approx(1.0, abs=1e-3)


@given(
    intervals=st.lists(st.tuples(st.integers(-20, 60), st.integers(-20, 60)), min_size=1),
    from_s=st.integers(-5, 5),
)
def test_no_delay_is_better(intervals: list[tuple[int, int]], from_s: int) -> None:
    """Against trying every whole and half number."""
    low, high = np.array(intervals, dtype=float).T
    tried = [int(np.sum((low <= d) & (d <= high))) for d in np.arange(from_s, 61, 0.5)]
    found = best_delay(low, high, from_s=from_s)
    if max(tried) == 0:
        assert found is None
        return
    assert found is not None
    assert found.delay_s >= from_s
    inside = int(np.sum((low <= found.delay_s) & (found.delay_s <= high)))
    assert inside == max(tried)
    assert found.chance == pytest.approx(inside / len(low))
    assert found.least_s <= found.delay_s <= found.most_s
