"""What is in each bag, where the camera sees what falls into it."""

import numpy as np
from bags_by_hand import told

from viscount.codes import Code
from viscount.gate.bags_below import Crossed, bags_below
from viscount.values import Status


def crossed(*at_s: float, way_s: float = 0.05, **changes):  # type: ignore[no-untyped-def]
    """Parts that crossed at these times, and were at the blade up to `way_s` before."""
    at = np.array(at_s)
    own = {
        "earliest_s": at - way_s,
        "latest_s": at,
        "parts": np.ones(len(at), dtype=np.int64),
        "doubt": np.full(len(at), 1e-6),
    }
    return Crossed(**{**own, **changes})


def test_each_part_is_in_the_bag_whose_opening_it_came_through() -> None:
    found = bags_below(
        crossed(0.5, 0.6, 1.25, 1.4), told(0.62, 1.2, 1.5), shut_takes_s=0.01, end_s=2.0
    )
    assert [bag.content for bag in found] == [2, 2]
    assert [bag.status for bag in found] == [Status.CLEAN] * 2
    assert found[0].held_after is None


def test_a_part_between_two_bags_is_in_doubt_in_both() -> None:
    found = bags_below(crossed(0.5, 0.635), told(0.6, 0.64, 1.5), shut_takes_s=0.01, end_s=2.0)
    assert [{r.code for r in bag.reasons} for bag in found] == [{Code.BAG_PARTS_UNSURE}] * 2
    assert sum(bag.content for bag in found) == 2
    assert (found[1].low, found[1].high) == (0, 1)


def test_a_bag_that_is_not_shut_is_doubtful() -> None:
    for commands, end_s in ((told(0.62, 1.2), 2.0), (told(0.62, 1.2, 1.9), 1.9)):
        first, last = bags_below(crossed(0.5, 1.3), commands, shut_takes_s=0.01, end_s=end_s)
        assert first.status is Status.CLEAN
        assert {r.code for r in last.reasons} == {Code.BAG_NOT_SHUT}


def test_what_goes_back_up_is_taken_off() -> None:
    parts = np.array([1, -1, 1])
    (bag,) = bags_below(
        crossed(0.5, 0.52, 0.55, parts=parts), told(1.0), shut_takes_s=0.01, end_s=2.0
    )
    assert (bag.content, bag.low, bag.high) == (1, 1, 1)
