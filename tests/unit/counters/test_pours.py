"""Pours by pairings."""

import pytest
from tallies import pairing, passage

from viscount.counters.pours import in_pours, pours_by_pairings, pours_by_passages
from viscount.values import Pairing, Pairs, Status

PASSAGES = {k: passage(k, t).passage for k, t in enumerate((0.5, 0.6, 3.0), start=1)}


def made(*pairings: Pairing):
    return pours_by_pairings(list(pairings), PASSAGES, transit_ns=2e7, quiet_ns=1e9)


def agreed(number: int, at_s: float, **changes: object) -> Pairing:
    both = {"passages": (number,), "pulses": (number,), **changes}
    return pairing(Pairs.AGREED, at_s, **both).pairing


def test_each_pour_holds_its_own_and_a_lone_pulse_counts_where_it_fell():
    alone = pairing(Pairs.BEAM_ONLY, 0.72, pulses=(9,), parts=2).pairing
    pours, numbered = made(agreed(1, 0.52), agreed(2, 0.62), alone, agreed(3, 3.02))
    assert [pour.count for pour in pours] == [4, 1]
    assert [pour.start_s for pour in pours] == [0.5, 3.0]
    # A pulse without a passage is carried back to the line.
    assert pours[0].end_s == pytest.approx(0.7)
    assert [one.pour for one in numbered] == [1, 1, 1, 2]


def test_a_doubtful_pairing_makes_its_pour_doubtful_alone():
    pours, _ = made(agreed(1, 0.52, doubt=0.3, fewer=0.1), agreed(3, 3.02))
    assert [pour.status for pour in pours] == [Status.DOUBTFUL, Status.CLEAN]
    assert (pours[0].count_low, pours[0].count_high) == (0, 2)
    assert "look at 1 place: 0.520 s" in pours[0].reasons[0].text


def test_what_no_clock_places_is_in_no_pours_count():
    lost = pairing(Pairs.AMBIGUOUS, 0.0, pulses=(7, 8), parts=0, doubt=1.0, t_ns=None).pairing
    pours, numbered = made(agreed(1, 0.52), lost)
    assert [pour.count for pour in pours] == [1]
    assert sorted(k for one in numbered for k in one.pairing.pulses) == [1, 7, 8]


def test_pours_by_the_camera_alone():
    pours = pours_by_passages(list(PASSAGES.values()), quiet_ns=1e9)
    assert [(pour.count, pour.start_s, pour.end_s) for pour in pours] == [
        (2, 0.5, pytest.approx(0.6)),
        (1, 3.0, 3.0),
    ]


def test_passages_get_the_numbers_of_these_pours():
    pours, numbered = made(agreed(1, 0.52), agreed(3, 3.02))
    counted = [passage(k, PASSAGES[k].t_ns * 1e-9) for k in PASSAGES]
    assert [one.pour for one in in_pours(counted, numbered, pours)] == [1, 1, 2]
    assert [one.pour for one in in_pours(counted, [], [])] == [1, 1, 1]
