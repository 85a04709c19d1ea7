"""The gate: what it lets pass, pinches and holds."""

from itertools import pairwise

import numpy as np
import pytest

from viscount.errors import UsageError
from viscount.simulate.physics import Paths, paths
from viscount.simulate.scene import (
    Ball,
    Bounce,
    Box,
    Column,
    Cycle,
    Escapement,
    Gate,
    Lanes,
    Release,
    Scene,
    Screw,
    Stuck,
    Times,
    Turning,
)

G = 9806.65
TOP = 99.0
"""Of a blade of 2 mm at 100 mm."""
BALL = Ball(diameter_mm=4.0)
FALL_MS = 1e3 * float(np.sqrt(2 * (TOP - 2.0) / G))
"""From the lip until a ball's leading edge is at the top of the blade."""


def gate(*cycles: tuple[float, float], **more: object) -> Gate:
    given = {"below_lip_mm": 100.0, "thickness_mm": 2.0, "open_takes_ms": 0.0} | more
    return Gate(cycles=tuple(Cycle(open_ms=o, shut_ms=s) for o, s in cycles), **given)


def pour(
    found: Gate, release: Release | None = None, until_mm: float = 200.0, **more: object
) -> Paths:
    given = {"parts": (BALL,), "lead_in_s": 0.0} | more
    scene = Scene(release=release or Times(times_ms=(0.0,)), gate=found, **given)
    return paths(scene, until_mm)


def at(found: Paths, part: int, t_ms: float) -> float:
    return float(found.along(part, np.array([t_ms * 1e-3]))[0][0])


def test_the_blade_sweeps_rebounds_and_withdraws() -> None:
    blade = gate((0.0, 100.0), (200.0, 300.0), reach_ms=10.0, shut_takes_ms=20.0, open_takes_ms=8.0)
    found = pour(blade)
    t = np.array([0.0, 110.0, 115.0, 120.0, 199.0, 202.0, 208.0, 309.0, 400.0, 9000.0]) * 1e-3
    expected = [0.0, 0.0, 0.5, 1.0, 1.0, 0.75, 0.0, 0.0, 1.0, 1.0]
    assert found.blade(t) == pytest.approx(expected, abs=1e-9)
    back = pour(gate((0.0, 100.0), reach_ms=10.0, shut_takes_ms=20.0, rebound_percent=30.0))
    covered = back.blade(np.array([113.0, 116.0, 118.0, 120.0, 121.0]) * 1e-3)
    assert covered == pytest.approx([0.5, 1.0, 0.7, 1.0, 1.0], abs=1e-9)
    assert paths(Scene(parts=(BALL,), release=Times(times_ms=())), 1.0).blade(t) == pytest.approx(0)


def test_reach_and_shut_stray_by_their_spread() -> None:
    cycles = tuple((200.0 * k, 200.0 * k + 100.0) for k in range(500))
    bags = pour(gate(*cycles, reach_ms=10.0, shut_takes_ms=20.0, spread_ms=1.0)).bags
    reach = np.array([(b.reach_s - b.commanded_s) * 1e3 for b in bags])
    shut = np.array([(b.shut_s - b.commanded_s) * 1e3 for b in bags])
    assert (reach.mean(), shut.mean()) == pytest.approx((10.0, 20.0), abs=0.2)
    assert (reach.std(), shut.std()) == pytest.approx((1.0, 1.0), rel=0.1)
    assert np.all(shut > reach)


def test_without_a_gate_nothing_is_said() -> None:
    found = paths(Scene(parts=(BALL,), release=Times(times_ms=(0.0,))), 50.0)
    assert [(fate.fate, fate.bag) for fate in found.fates] == [("none", None)]
    assert found.bags == ()


@pytest.mark.parametrize(
    ("shut_ms", "fate"),
    [
        # The tail of a ball is clear of the blade 2 mm thick after sqrt(2 * 103 / g).
        (1e3 * np.sqrt(2 * 103.0 / G) - 10.0 + 0.01, "in_bag"),
        (1e3 * np.sqrt(2 * 103.0 / G) - 10.0 - 0.01, "pinched"),
        (FALL_MS - 15.0 + 0.01, "pinched"),
        (FALL_MS - 15.0 - 0.01, "held"),
    ],
)
def test_reach_and_shut_decide(shut_ms: float, fate: str) -> None:
    """Passed if clear at the reach, held if it arrives after the shut, pinched in between."""
    found = pour(gate((-500.0, shut_ms)))
    assert found.fates[0].fate == fate
    assert found.fates[0].bag == (0 if fate == "in_bag" else None)
    assert len(found.fates[0].held_s) == (fate == "held")
    assert len(found.fates[0].pinched_s) == (fate == "pinched")
    assert found.bags[0].content == ((0,) if fate == "in_bag" else ())
    assert np.isnan(found.arrival(190.0)[0]) == (fate != "in_bag")


def test_held_parts_lie_on_the_blade_and_on_each_other() -> None:
    found = pour(gate((-500.0, -100.0), (1000.0, 5000.0)), Escapement(count=3, interval_ms=40.0))
    for k, place in enumerate((97.0, 93.0, 89.0)):
        assert at(found, k, 900.0) == pytest.approx(place, abs=1e-6)
        assert found.fates[k].held_s[0][0] * 1e3 == pytest.approx(
            40.0 * k + 1e3 * np.sqrt(2 * place / G), abs=1e-5
        )
        assert found.fates[k].held_s[0][1] == pytest.approx(1.0)
        t = found.arrival(150.0)[k]
        assert t - 1.0 == pytest.approx(np.sqrt(2 * (150.0 - place) / G))
        assert found.fates[k].blade_t_s == pytest.approx(1.0 + np.sqrt(2 * (100.0 - place) / G))
    assert [(fate.fate, fate.bag) for fate in found.fates] == [("in_bag", 1)] * 3
    assert found.bags[0].held_after == found.bags[1].held_before == (0, 1, 2)
    assert found.bags[0].content == ()
    assert found.bags[1].content == (0, 1, 2)
    assert found.bags[1].opened_s == pytest.approx(1.0)


def test_screws_lie_tip_on_head() -> None:
    screw = Screw(
        overall_length_mm=12.0, head_diameter_mm=7.0, head_height_mm=4.0, shank_diameter_mm=4.0
    )
    found = pour(gate((-500.0, -100.0)), Escapement(count=3, interval_ms=60.0), parts=(screw,))
    places = [at(found, k, 900.0) for k in range(3)]
    assert np.diff(places) == pytest.approx([-12.0, -12.0], abs=1e-6)
    # Its heavy head is upstream: it reaches further down from its middle than up.
    assert TOP - places[0] > 6.5


def test_parts_that_overlap_in_flight_stop_when_the_first_does() -> None:
    found = pour(gate((-500.0, -100.0)), Times(times_ms=(0.0, 1.0)))
    first, second = (fate.held_s[0][0] for fate in found.fates)
    assert second == first
    assert at(found, 1, 900.0) == pytest.approx(G * (first - 1e-3) ** 2 / 2)


def test_parts_pile_up_in_their_own_lanes() -> None:
    found = pour(
        gate((-500.0, -100.0)),
        Escapement(count=4, interval_ms=40.0),
        lanes=Lanes(positions_mm=(-6.0, 6.0)),
    )
    assert [at(found, k, 900.0) for k in range(4)] == pytest.approx([97, 97, 93, 93], abs=1e-6)
    assert [fate.fate for fate in found.fates] == ["held"] * 4
    assert [fate.held_s[0][1] for fate in found.fates] == [None] * 4


def test_the_blade_meets_its_lanes_one_after_the_other() -> None:
    """From the left: of two that come together only the left one is stopped."""
    lanes = Lanes(positions_mm=(-20.0, 20.0))
    times = Times(times_ms=(0.0, 0.0))
    slow = gate(
        (-500.0, FALL_MS - 15.0), (1000.0, 5000.0),
        reach_ms=10.0, shut_takes_ms=50.0, open_takes_ms=40.0,
    )  # fmt: skip
    found = pour(slow, times, lanes=lanes)
    assert [(fate.fate, fate.bag) for fate in found.fates] == [("in_bag", 1), ("in_bag", 0)]
    assert [len(fate.held_s) for fate in found.fates] == [1, 0]
    assert (found.gate and (found.gate.left_mm, found.gate.right_mm)) == pytest.approx((-22, 22))
    # It withdraws from right to left, so that what lies to the left falls last.
    both = pour(
        gate((-500.0, -200.0), (1000.0, 5000.0), shut_takes_ms=50.0, open_takes_ms=40.0),
        times,
        lanes=lanes,
    )
    free = [fate.held_s[0][1] for fate in both.fates]
    assert free == pytest.approx([1.0 + 0.04 * (1 - 2 / 44), 1.0 + 0.04 * (1 - 42 / 44)])


def test_a_pinched_part_stays_where_it_is_met_and_holds_what_follows() -> None:
    shut_ms = FALL_MS - 10.0 + 1.0
    found = pour(gate((-500.0, shut_ms), (1000.0, 5000.0)), Times(times_ms=(0.0, 60.0)))
    met_ms = shut_ms + 10.0
    place = G * (met_ms * 1e-3) ** 2 / 2
    assert at(found, 0, 900.0) == pytest.approx(place, abs=1e-6)
    assert found.fates[0].pinched_s == (pytest.approx((met_ms * 1e-3, 1.0)),)
    assert at(found, 1, 900.0) == pytest.approx(place - 4.0, abs=1e-6)
    assert [(fate.fate, fate.bag) for fate in found.fates] == [("pinched", 1), ("in_bag", 1)]
    assert found.bags[0].pinched_after == found.bags[1].pinched_before == (0,)
    assert found.bags[0].held_after == (1,)


def test_a_rebound_pinches_what_comes_while_it_is_open() -> None:
    late = FALL_MS - 15.0 + 0.5
    early = gate((-500.0, late - 1.0), shut_takes_ms=15.0)
    assert pour(early).fates[0].fate == "held"
    # Shut for good only when the rebound is over: the same for a part as wide as the stream.
    again = gate((-500.0, late - 1.0), shut_takes_ms=15.0, rebound_percent=50.0)
    assert pour(again).fates[0].fate == "held"
    # One at the left is covered when the edge is first past it, but for the rebound.
    lanes = Lanes(positions_mm=(-20.0, 20.0))
    for rebound, fate in [(0.0, "held"), (98.0, "pinched")]:
        blade = gate((-500.0, FALL_MS - 18.0), shut_takes_ms=20.0, rebound_percent=rebound)
        assert pour(blade, Times(times_ms=(0.0, 500.0)), lanes=lanes).fates[0].fate == fate


def test_every_part_is_in_one_bag_and_the_sums_agree() -> None:
    cycles = tuple((400.0 * k - 400.0, 400.0 * k) for k in range(1, 6))
    found = pour(
        gate(*((o + 50.0, s - 80.0) for o, s in cycles), spread_ms=1.0, open_takes_ms=5.0),
        Escapement(count=90, interval_ms=22.0, jitter_ms=2.0),
    )
    content = [k for bag in found.bags for k in bag.content]
    lost = [fate.part for fate in found.fates if fate.bag is None]
    assert sorted(content + lost) == list(range(90))
    passed_s = found.arrival(100.0)
    for bag in found.bags:
        waited = set(bag.held_before) | set(bag.pinched_before)
        assert waited <= set(bag.content) | set(bag.held_after) | set(bag.pinched_after)
        for k in bag.content:
            if found.fates[k].fate == "in_bag":
                assert bag.opened_s is None or passed_s[k] > bag.opened_s
                assert passed_s[k] < bag.shut_s
    for before, bag in pairwise(found.bags):
        assert bag.held_before == before.held_after
    assert any(bag.held_after for bag in found.bags)
    assert any(bag.pinched_after for bag in found.bags)
    assert all(not found.fates[k].held_s or found.fates[k].bag for k in content)


def test_held_twice() -> None:
    """In 40 ms they fall 7.8 mm: one gets through, one is pinched, one lies on that one."""
    found = pour(
        gate((-500.0, -100.0), (1000.0, 1030.0), (2000.0, 5000.0)),
        Escapement(count=3, interval_ms=40.0),
    )
    assert [(fate.fate, fate.bag) for fate in found.fates] == [
        ("in_bag", 1),
        ("pinched", 2),
        ("in_bag", 2),
    ]
    assert found.fates[1].pinched_s == (pytest.approx((1.04, 2.0)),)
    assert found.fates[2].held_s[1] == pytest.approx((1.04, 2.0))
    fallen = G * 0.04**2 / 2
    assert [at(found, k, 1500.0) for k in (1, 2)] == pytest.approx([93 + fallen, 89 + fallen])
    assert [bag.content for bag in found.bags] == [(), (0,), (1, 2)]


def test_a_full_stack_holds_nothing_back_at_the_lip() -> None:
    column = Column(count=40, pitch_mm=4.0, acceleration_mm_s2=2500.0)
    found = pour(gate((-500.0, -100.0)), column)
    places = np.array([at(found, k, 3000.0) for k in range(40)])
    assert places.min() >= 0
    assert np.all(np.diff(places) <= 1e-6)
    full = found.lip_s[places == 0]
    assert full.size
    for k in np.flatnonzero(places == 0):
        assert found.fates[k].held_s[0][0] == pytest.approx(found.lip_s[k])


def test_a_turning_part_stops_with_its_leading_edge_on_the_blade() -> None:
    plate = Box(along_mm=12.0, across_mm=3.0)
    found = pour(
        gate((-500.0, -100.0)), parts=(plate,), turning=Turning(angle_deg=10.0, spin_deg_s=700.0)
    )
    lies = found.fates[0].held_s[0][0]
    later = np.array([lies, lies + 1.0])
    angle = found.angle(0, later)
    assert angle[0] == angle[1] == pytest.approx(np.radians(10.0 + 700.0 * lies))
    reach = 6.0 * abs(np.cos(angle[0])) + 1.5 * abs(np.sin(angle[0]))
    assert at(found, 0, 900.0) == pytest.approx(TOP - reach, abs=1e-6)
    assert found.rotation(0, later)[0] == pytest.approx(found.rotation(0, later)[1])


def test_what_sticks_above_the_gate_comes_late() -> None:
    found = pour(
        gate((-500.0, 300.0), (1000.0, 5000.0)),
        Times(times_ms=(0.0, 10.0)),
        stuck=(Stuck(part=0, below_lip_mm=50.0, for_ms=400.0),),
    )
    assert [(fate.fate, fate.bag) for fate in found.fates] == [("in_bag", 1), ("in_bag", 0)]
    assert at(found, 0, 900.0) == pytest.approx(97.0, abs=1e-6)
    # One that would stick below the gate does so when it gets there.
    below = pour(
        gate((-500.0, -100.0), (1000.0, 5000.0)),
        stuck=(Stuck(part=0, below_lip_mm=150.0, for_ms=200.0),),
    )
    there = 1.0 + float(np.sqrt(2 * (150.0 - 97.0) / G))
    assert below.arrival(190.0)[0] == pytest.approx(there + 0.2 + np.sqrt(2 * 40.0 / G))
    # Met where it sticks, it still sticks when the gate has opened.
    met = pour(
        gate((-500.0, 300.0), (400.0, 5000.0)),
        stuck=(Stuck(part=0, below_lip_mm=100.0, for_ms=500.0),),
    )
    assert met.fates[0].fate == "pinched"
    free = float(np.sqrt(2 * 100.0 / G)) + 0.5
    assert met.arrival(150.0)[0] == pytest.approx(free + np.sqrt(2 * 50.0 / G))


def test_a_part_that_bounces_above_the_gate() -> None:
    bounce = Bounce(below_lip_mm=80.0, parts=(0,), restitution=0.5)
    found = pour(gate((-500.0, -100.0), (1000.0, 5000.0)), bounce=bounce)
    down = float(np.sqrt(2 * 80.0 / G))
    lies = down * 1.5 + np.sqrt(2 * (97.0 - 80.0 + 0.25 * 80.0) / G)
    assert found.fates[0].held_s == (pytest.approx((lies, 1.0)),)
    with pytest.raises(UsageError, match="bounce 100 mm below the lip, the gate is at 100 mm"):
        pour(gate((0.0, 9.0)), bounce=Bounce(below_lip_mm=100.0, parts=(0,)))


def test_times_count_from_the_first_pour() -> None:
    early = pour(gate((-500.0, 0.0)), lead_in_s=2.0, pours_ms=(300.0, 900.0))
    assert early.bags[0].commanded_s == pytest.approx(2.3)


def test_cycles_are_checked() -> None:
    with pytest.raises(ValueError, match="follow one another"):
        gate((0.0, 100.0), (90.0, 200.0))
    with pytest.raises(ValueError, match="above reach_ms"):
        gate((0.0, 100.0), reach_ms=20.0)
