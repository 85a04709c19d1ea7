"""What must hold of bags whatever comes: nothing is lost, and time has no origin."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
from bags_by_hand import arriving, gate, told
from hypothesis import given, settings
from hypothesis import strategies as st

from viscount.gate.bags import bags_above

HEADS = st.lists(st.floats(0.2, 3.0), min_size=1, max_size=25).map(sorted)
TIMES = st.lists(st.integers(4, 60), min_size=1, max_size=6, unique=True).map(
    lambda steps: [0.05 * step for step in sorted(steps)]
)


@given(HEADS, TIMES, st.booleans())
@settings(max_examples=40, deadline=None, derandomize=True)
def test_nothing_is_lost(heads: list[float], times: list[float], open_: bool) -> None:
    commands = told(*times, open_at_first=open_)
    found = bags_above(arriving(heads), commands, gate(), end_s=10.0, lay_before=2)
    lay = 0 if open_ else 2
    kept = sum(bag.content for bag in found.bags)
    if found.held is not None:
        caught = (found.bags[-1].pinched or 0) if found.bags else 0
        assert kept + found.held + caught == len(heads) + lay
    else:
        assert kept == len(heads) + lay
    for one, following in pairwise(found.bags):
        assert following.held_before == (one.held_after or 0) + (one.pinched or 0)
    for bag in found.bags:
        assert bag.low <= bag.content <= bag.high
        assert bag.content >= 0


@given(HEADS, TIMES)
@settings(max_examples=15, deadline=None, derandomize=True)
def test_time_has_no_origin(heads: list[float], times: list[float]) -> None:
    one = bags_above(arriving(heads), told(*times), gate(), end_s=10.0)
    later = told(*times)
    later = replace(later, at_s=later.at_s + 100.0)
    other = bags_above(arriving(np.array(heads) + 100.0), later, gate(), end_s=110.0)
    assert [bag.content for bag in one.bags] == [bag.content for bag in other.bags]
    assert [bag.status for bag in one.bags] == [bag.status for bag in other.bags]
