"""What is inferred of each bag, where the line is above the blade."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from bags_by_hand import arriving, gate, told

from viscount.codes import Code
from viscount.gate.bags import bags_above
from viscount.gate.coming import NONE_COMING, coming
from viscount.stream import Poured
from viscount.tally import Reason
from viscount.values import Status

EVERY_40_MS = 0.5 + 0.04 * np.arange(8)
AFTER_SIX = 0.5 + 0.04 * 5 + 0.013
"""Six parts are through when the blade enters; the seventh comes long after it is shut."""


def codes(bag) -> set[Code]:  # type: ignore[no-untyped-def]
    return {reason.code for reason in bag.reasons}


def test_what_comes_after_the_blade_is_shut_is_held() -> None:
    found = bags_above(arriving(EVERY_40_MS), told(AFTER_SIX), gate(), end_s=2.0)
    (bag,) = found.bags
    assert (bag.content, bag.low, bag.high) == (6, 6, 6)
    assert (bag.held_before, bag.held_after, bag.pinched) == (0, 2, 0)
    assert bag.status is Status.CLEAN
    assert bag.chance > 0.999
    assert found.held == 2


def test_held_parts_go_into_the_next_bag() -> None:
    more = np.concatenate([EVERY_40_MS, 1.5 + 0.04 * np.arange(4)])
    commands = told(AFTER_SIX, 1.2, 1.5 + 0.04 * 3 + 0.013)
    found = bags_above(arriving(more), commands, gate(), end_s=2.0)
    assert [bag.content for bag in found.bags] == [6, 6]
    assert [bag.held_before for bag in found.bags] == [0, 2]
    assert [bag.status for bag in found.bags] == [Status.CLEAN] * 2
    assert found.held == 0


def test_a_part_in_the_blades_way_is_in_no_bag_for_sure_and_spoils_the_next_one() -> None:
    seventh_at = 0.5 + 0.04 * 6
    commands = told(seventh_at - 0.007, 1.2, 1.6)
    one, following = bags_above(arriving(EVERY_40_MS), commands, gate(), end_s=2.0).bags
    assert (one.content, one.pinched, one.held_after) == (6, 1, 1)
    assert one.low == 6
    assert one.high == 7
    assert codes(one) == {Code.BAG_PINCHED}
    assert following.held_before == 2
    assert codes(following) == {Code.BAG_PINCHED}


def test_a_part_that_may_be_through_or_not_makes_a_doubt() -> None:
    tail_of_sixth = 0.5 + 0.04 * 5 + 4e-3
    at = tail_of_sixth - 5e-3 + 5e-4
    (bag,) = bags_above(arriving(EVERY_40_MS), told(at), gate(), end_s=2.0).bags
    assert bag.content == 6
    assert codes(bag) == {Code.BAG_PARTS_UNSURE}
    assert bag.low < 6
    assert 0.5 < bag.chance < 0.999


def test_a_bag_that_is_shut_before_the_held_parts_can_have_fallen_is_doubtful() -> None:
    commands = told(AFTER_SIX, 1.2, 1.235)
    _, hurried = bags_above(arriving(EVERY_40_MS), commands, gate(), end_s=2.0).bags
    assert codes(hurried) & {Code.BAG_PARTS_UNSURE, Code.BAG_PINCHED}


def test_how_long_held_parts_take_is_not_known_exactly() -> None:
    """Two of 6 mm fall past the blade in sqrt(2 x 12 / g) = 49.5 ms; the gate leaves 54 ms."""
    leaves_s = 0.054 + 6e-3 - 5e-3
    commands = told(AFTER_SIX, 1.2, 1.2 + leaves_s, sigma_s=0.0)
    common = MappingProxyType({"height": np.zeros(8)})
    parts = arriving(EVERY_40_MS, common_s=common)
    _, hurried = bags_above(parts, commands, gate(), end_s=2.0).bags
    assert hurried.content == 2
    assert codes(hurried) == {Code.BAG_PARTS_UNSURE}


def test_what_comes_while_held_parts_fall_passes_after_them() -> None:
    """A ninth part comes 10 ms after the gate opened on two that lie there, and it shuts soon."""
    heads = [*EVERY_40_MS, 1.21]
    _, following = bags_above(arriving(heads), told(AFTER_SIX, 1.2, 1.235), gate(), end_s=2.0).bags
    assert following.pinched == 3
    slow = bags_above(arriving(heads), told(AFTER_SIX, 1.2, 1.4), gate(), end_s=2.0)
    assert [bag.content for bag in slow.bags] == [6, 3]


@pytest.mark.parametrize(
    ("lay", "content", "expected"), [(None, 8, {Code.BAG_HELD_UNKNOWN}), (3, 11, set())]
)
def test_a_gate_that_stood_shut_may_have_held_some(lay, content, expected) -> None:  # type: ignore[no-untyped-def]
    commands = told(0.1, 1.5, open_at_first=False)
    (bag,) = bags_above(arriving(EVERY_40_MS), commands, gate(), end_s=2.0, lay_before=lay).bags
    assert bag.content == content
    assert codes(bag) == expected
    assert bag.held_before == (lay or 0)


def test_what_lay_on_the_blade_needs_time_to_fall() -> None:
    for shut_s, hurried in ((0.15, True), (0.3, False)):
        commands = told(0.1, shut_s, 0.45, 1.5, open_at_first=False)
        first, _ = bags_above(arriving(EVERY_40_MS), commands, gate(), end_s=2.0, lay_before=4).bags
        assert first.content == 4
        assert codes(first) == ({Code.BAG_PARTS_UNSURE} if hurried else set())


def test_what_crosses_while_the_gate_stands_shut_at_first_is_held_before() -> None:
    commands = told(1.0, 1.5, open_at_first=False)
    (bag,) = bags_above(arriving(EVERY_40_MS), commands, gate(), end_s=2.0, lay_before=0).bags
    assert (bag.content, bag.held_before, bag.held_after) == (8, 8, 0)


def test_a_gate_that_never_opens_holds_everything() -> None:
    found = bags_above(
        arriving(EVERY_40_MS), told(open_at_first=False), gate(), end_s=2.0, lay_before=1
    )
    assert found.bags == ()
    assert found.held == 9


def test_a_bag_that_is_not_shut_is_doubtful() -> None:
    found = bags_above(arriving(EVERY_40_MS), told(AFTER_SIX, 1.2), gate(), end_s=2.0)
    assert [codes(bag) for bag in found.bags] == [set(), {Code.BAG_NOT_SHUT}]
    assert [bag.content for bag in found.bags] == [6, 2]
    assert found.held is None
    (cut,) = bags_above(arriving(EVERY_40_MS), told(AFTER_SIX), gate(), end_s=0.69).bags
    assert codes(cut) == {Code.BAG_NOT_SHUT}


def test_few_strokes_say_little_of_the_next_one() -> None:
    (bag,) = bags_above(arriving(EVERY_40_MS), told(AFTER_SIX), gate(many=4), end_s=2.0).bags
    assert codes(bag) == {Code.BAG_FEW_STROKES}


def test_strokes_that_are_badly_known_make_a_doubt() -> None:
    """All strokes read alike, but each may be 2 ms off, and a part is 4 ms clear of them."""
    alike = gate(many=6)
    at = 0.5 + 0.04 * 5 + 4e-3 - 5e-3 + 4e-3
    (sure,) = bags_above(arriving(EVERY_40_MS), told(at), alike, end_s=2.0).bags
    vague = replace(alike, sigma_s=2e-3)
    (doubted,) = bags_above(arriving(EVERY_40_MS), told(at), vague, end_s=2.0).bags
    assert sure.status is Status.CLEAN
    assert codes(doubted) == {Code.BAG_PARTS_UNSURE}


def test_a_doubt_of_the_count_is_one_of_every_bag() -> None:
    doubt = Reason(code=Code.BAG_COUNT_DOUBTFUL, text="so it is")
    found = bags_above(
        arriving(EVERY_40_MS), told(AFTER_SIX, 1.2, 1.6), gate(), end_s=2.0, doubts=[doubt]
    )
    assert all(bag.reasons == (doubt,) for bag in found.bags)


def test_clumps_count_as_many_as_they_are() -> None:
    parts = np.array([1, 2, 1, 1, 1, 1, 3, 1])
    found = bags_above(arriving(EVERY_40_MS, parts=parts), told(AFTER_SIX), gate(), end_s=2.0)
    assert (found.bags[0].content, found.held) == (7, 4)


def test_nothing_coming_leaves_the_bags_empty() -> None:
    found = bags_above(NONE_COMING, told(AFTER_SIX, 1.2, 1.6), gate(), end_s=2.0)
    assert [bag.content for bag in found.bags] == [0, 0]


def test_pours_are_carried_to_the_blade_and_put_in_order() -> None:
    def pour(*t_s: float) -> Poured:
        n = len(t_s)
        return Poured(
            unit="mm", t_s=np.array(t_s), sigma_s=np.full(n, 1e-4), speed=np.full(n, 1000.0),
            sigma_speed=np.full(n, 2.0), ahead=np.full(n, 2.0), behind=np.full(n, 3.0),
            sigma_end=0.05, doubt=np.array([0.01, 0.97][:n]), acceleration=0.0,
            sigma_acceleration=0.0,
        )  # fmt: skip

    parts = [np.array([1, 2]), np.array([1])]
    found = coming([pour(1.0, 1.1), pour(0.5)], parts, 50.0, sigma_height=1.0)
    assert found.head_s == pytest.approx([0.548, 1.048, 1.148])
    assert found.tail_s == pytest.approx([0.553, 1.053, 1.153])
    assert found.parts.tolist() == [1, 1, 2]
    assert found.doubt == pytest.approx([0.01, 0.01, 0.03])
    assert found.common_s["height"] == pytest.approx(1e-3)
    assert found.line_to_blade_s == pytest.approx(0.05)
