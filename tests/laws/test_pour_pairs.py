"""What holds of pours paired one by one, whatever was missed: nothing is called good by totals."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from packing_rig import LENGTH_PX, LOOKS, OUTLET, SPEED_PX_S, WAY_S
from tallies import passage

from viscount.packing.paired import PourSeen
from viscount.session.pour_pairs import PourPairs
from viscount.values import Pulse

PARTS = st.lists(st.integers(12, 200), min_size=1, max_size=7)
"""Steps in ms from each part to the next."""


def seen(steps_ms: list[int], at_s: float, unseen: set[int], unfelt: set[int]) -> PourSeen:
    heads_s = at_s + 1e-3 * np.cumsum(steps_ms)
    dark_s = LENGTH_PX / SPEED_PX_S
    return PourSeen(
        passages=[
            passage(
                k,
                head_s - WAY_S,
                sigma_ns=100_000,
                speed_px_s=SPEED_PX_S,
                length_px=LENGTH_PX + 2.0,
            ).passage
            for k, head_s in enumerate(heads_s)
            if k not in unseen
        ],
        pulses=[
            Pulse(
                id=k,
                epoch=0,
                start_ns=round(1e9 * (50.0 + head_s)),
                end_ns=round(1e9 * (50.0 + head_s + dark_s)),
            )
            for k, head_s in enumerate(heads_s)
            if k not in unfelt
        ],
        heard_ns=1_000_000_000_000,
    )


@settings(max_examples=40)
@given(steps_ms=PARTS, unseen=st.sets(st.integers(0, 6)), unfelt=st.sets(st.integers(0, 6)))
def test_beside_a_good_pour_only_parts_that_both_saw_are_agreed(
    steps_ms: list[int], unseen: set[int], unfelt: set[int]
) -> None:
    pairs = PourPairs(OUTLET, lambda: LOOKS)
    assert not pairs.of(seen([70, 90, 80, 110, 60], 5.0, set(), set())).reasons
    pairs.keep()
    found = pairs.of(seen(steps_ms, 25.0, unseen, unfelt))
    parts = range(len(steps_ms))
    missed = [k for k in parts if (k in unseen) != (k in unfelt)]
    if missed:
        assert found.reasons
    elif all(k in unseen for k in parts):
        assert found.agreed == 0
    else:
        assert found.agreed == sum(k not in unseen for k in parts)
        assert not found.reasons
