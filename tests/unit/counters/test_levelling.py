"""Pulses that come later to one side: a beam askew, or a readout across the fall."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.pairing.lists import passage

from viscount.agreement.arrival import Arrival
from viscount.counters.levelling import FEWEST, levelled
from viscount.values import Pairing, Pairs

Late = Callable[[Arrival], float]


def arrivals(count: int = 24, spread_px: float = 40.0) -> list[Arrival]:
    """Two lanes, speeds that grow along the pour."""
    return [
        Arrival(
            passage=passage(
                0.02 * k,
                k,
                across_px=80.0 + (spread_px if k % 2 else -spread_px),
                speed_px_s=4000.0 + 100.0 * k,
            ),
            transit_ns=5_000_000,
        )
        for k in range(count)
    ]


def pairings(made: list[Arrival], late_ns: Late, seed: int = 1) -> list[Pairing]:
    rng = np.random.default_rng(seed)
    return [
        Pairing(
            kind=Pairs.AGREED,
            passages=(a.passage.id,),
            pulses=(a.passage.id,),
            parts=1,
            doubt=0.0,
            late_ns=round(late_ns(a) + 30_000.0 * rng.standard_normal()),
        )
        for a in made
    ]


def off_px(arrival: Arrival) -> float:
    return arrival.passage.across_px - 80.0


def in_time(a: Arrival) -> float:
    return 15_000.0 * off_px(a)


def in_way(a: Arrival) -> float:
    return 1e9 * 0.08 * off_px(a) / a.passage.speed_px_s


@pytest.mark.parametrize("late_ns", [in_time, in_way])
def test_what_grows_to_one_side_is_taken_off(late_ns: Late) -> None:
    made = arrivals()
    found = levelled(made, pairings(made, late_ns))
    assert found is not None
    assert [a.passage for a in found] == [a.passage for a in made]
    for before, after in zip(made, found, strict=True):
        moved = after.transit_ns - before.transit_ns
        # The middle is the clock's to know.
        assert moved == pytest.approx(late_ns(before), abs=80_000)


def test_a_fifth_of_wrong_pairings_changes_nothing() -> None:
    made = arrivals()
    some = [
        replace(p, late_ns=4_000_000) if k % 5 == 0 else p
        for k, p in enumerate(pairings(made, in_time))
    ]
    found = levelled(made, some)
    assert found is not None
    assert found[1].transit_ns - made[1].transit_ns == pytest.approx(in_time(made[1]), abs=2e5)


@pytest.mark.parametrize(
    ("made", "late_ns"),
    [
        (arrivals(), lambda _: 0.0),
        (arrivals(), lambda a: 300_000.0 * (-1.0) ** (a.passage.id // 2)),
        (arrivals(spread_px=2.0), in_time),
        (arrivals(FEWEST - 1), in_time),
        (arrivals(), lambda a: 300_000.0 * off_px(a)),
    ],
    ids=["level", "no matter of sides", "one lane", "too few", "slower than any camera"],
)
def test_else_there_is_no_such_thing(made: list[Arrival], late_ns: Late) -> None:
    assert levelled(made, pairings(made, late_ns)) is None


def test_pairings_that_are_doubted_tell_nothing() -> None:
    made = arrivals()
    assert levelled(made, [replace(p, doubt=0.2) for p in pairings(made, in_time)]) is None


def test_a_lane_too_far_off_to_be_paired_tells_all_the_same() -> None:
    made = arrivals()
    some = pairings(made, in_time)
    far = [a.passage.id for a in made if off_px(a) > 0]
    own = [p for p in some if p.passages[0] not in far]
    for k in far:
        alone = {"parts": 1, "doubt": 0.0}
        due_ns = made[k].due_ns
        seen = Pairing(kind=Pairs.CAMERA_ONLY, passages=(k,), pulses=(), t_ns=due_ns, **alone)
        at_ns = due_ns + round(2 * in_time(made[k]))
        pulsed = Pairing(kind=Pairs.BEAM_ONLY, passages=(), pulses=(k,), t_ns=at_ns, **alone)
        own += [seen, pulsed]
    own = [replace(p, late_ns=0) if p.late_ns is not None else p for p in own]
    found = levelled(made, own)
    assert found is not None
    assert found[1].transit_ns - found[0].transit_ns == pytest.approx(1.2e6, abs=1e5)
