"""The story of a row of pulses, against all stories written out one by one."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.beam.explaining import Spread, explained

Story = tuple[tuple[int, int], ...]
"""For each pulse the state behind it, and the parts begun."""


def stories(weights: np.ndarray) -> dict[Story, float]:
    """Return every story from state 0 to state 0, with its chance."""
    n, states, _, kinds = weights.shape
    found: dict[Story, float] = {}
    for steps in product(product(range(states), range(kinds)), repeat=n):
        state, weight = 0, 1.0
        for i, (to, parts) in enumerate(steps):
            weight *= weights[i, state, to, parts]
            state = to
        if state == 0 and weight > 0:
            found[steps] = weight
    total = sum(found.values())
    return {story: weight / total for story, weight in found.items()}


def groups(story: Story) -> list[tuple[int, int, int]]:
    """Return (first pulse, last pulse, parts) of each group of a story."""
    found, first = [], 0
    for i, (to, _) in enumerate(story):
        if to == 0:
            found.append((first, i, sum(parts for _, parts in story[first : i + 1])))
            first = i + 1
    return found


def right(story: Story, first: int, last: int, parts: int) -> bool:
    """Whether a story parts these pulses from the rest, and says as many parts."""
    ends = first == 0 or story[first - 1][0] == 0
    return ends and story[last][0] == 0 and sum(p for _, p in story[first : last + 1]) == parts


@given(seed=st.integers(0, 10**6), n=st.integers(1, 4), states=st.integers(1, 3))
def test_against_every_story(seed: int, n: int, states: int):
    rng = np.random.default_rng(seed)
    weights = rng.exponential(1.0, (n, states, states, 3)) ** 4 + 1e-9
    all_of_them = stories(weights)
    told, spread = explained(weights)

    best = max(all_of_them, key=lambda story: all_of_them[story])
    assert [(t.first, t.last, t.parts) for t in told] == groups(best)
    for t in told:
        chance = sum(
            w for story, w in all_of_them.items() if right(story, t.first, t.last, t.parts)
        )
        assert t.doubt == pytest.approx(1 - chance, abs=1e-9)
        others = {
            k: sum(w for story, w in all_of_them.items() if right(story, t.first, t.last, k))
            for k in range(3 * n)
            if k != t.parts
        }
        assert others[t.instead] == pytest.approx(max(others.values()), rel=1e-6, abs=1e-12)
    numbers: dict[int, float] = {}
    for story, w in all_of_them.items():
        number = sum(parts for _, parts in story)
        numbers[number] = numbers.get(number, 0.0) + w
    found = dict(enumerate(spread.chances.tolist(), start=spread.low))
    for number, chance in numbers.items():
        assert found.get(number, 0.0) == pytest.approx(chance, abs=1e-9)
    assert sum(found.values()) == pytest.approx(1.0)


def test_long_rows_lose_no_digits():
    """300 pulses, each one part with 0.99 or two with 0.01: a binomial number of twos."""
    weights = np.zeros((300, 2, 2, 3))
    weights[:, 0, 0, 1:] = [0.99e-30, 0.01e-30]
    weights[:, 1, 1, 0] = 1e-40
    told, spread = explained(weights)
    assert [t.parts for t in told] == [1] * 300
    assert all(t.doubt == pytest.approx(0.01) for t in told)
    mean = (np.arange(len(spread.chances)) + spread.low) @ spread.chances
    assert mean == pytest.approx(303.0)
    alone, same = explained(weights[:, :1, :1])
    assert [t.parts for t in alone] == [t.parts for t in told]
    assert same.within(0.95) == spread.within(0.95)


def test_ranges_of_a_spread():
    assert Spread(3, np.array([1.0])).within(0.95) == (3, 3)
    assert Spread(3, np.array([0.03, 0.94, 0.03])).within(0.95) == (3, 5)
    assert Spread(3, np.array([0.02, 0.96, 0.02])).within(0.95) == (4, 4)
    both = Spread(1, np.array([0.5, 0.5])).plus(Spread(2, np.array([0.9, 0.1])))
    assert both.low == 3
    assert both.chances == pytest.approx([0.45, 0.5, 0.05])
