"""Passages carried to the beam."""

from dataclasses import replace

import numpy as np
import pytest
from counting import outlet
from scipy.integrate import solve_ivp
from tallies import SET_UP, passage

from viscount.agreement.arrival import Arrival
from viscount.counters.beam_place import beam_place
from viscount.counters.carrying import HALO_PX, carried, halo_px
from viscount.outlet import Shape
from viscount.values import Direction, Passage

G = 39226.6
FALLING = replace(SET_UP, acceleration_px_s2=G)


def arrivals(
    *passages: Passage, at_px: float | None = 120.0, shape: Shape | None = Shape.SCREW
) -> list[Arrival]:
    made = outlet() if at_px is None else outlet(beam={"at_px": at_px})
    place = beam_place(made, FALLING, passages)
    return carried(
        passages,
        place,
        head_share=0.5,
        usual_px=32.0,
        interval_s=1 / 120,
        unit_px=4.0,
        view_px=160.0,
        shape=shape,
    )


def one(**changes: object) -> Passage:
    return passage(1, 0.5, **changes).passage


@pytest.mark.parametrize("at_px", [20.0, 80.0, 300.0])
def test_the_head_arrives_as_the_equation_of_motion_has_it(at_px: float):
    (arrival,) = arrivals(one(), at_px=at_px)
    # Of 32 px, as many as parts look longer than they are belong to neither end.
    head = 16.0 - 0.5 * HALO_PX
    way = at_px - 80.0 - head
    sense = 1.0 if way > 0 else -1.0

    def reached(_: float, y: np.ndarray) -> float:
        return float(y[0] - way)

    reached.terminal = True  # type: ignore[attr-defined]
    fall = solve_ivp(
        lambda _, y: [y[1], G], (0, sense), [0.0, 6000.0], events=reached, rtol=1e-10, atol=1e-9
    )
    assert arrival.transit_ns == pytest.approx(1e9 * fall.t_events[0][0], abs=5.0)
    speed = np.sqrt(6000.0**2 + 2 * G * (at_px - 80.0)) / 4.0
    assert arrival.speed == pytest.approx(speed)
    # 1 px of height at that speed.
    assert arrival.common_ns == pytest.approx(1e9 / (4.0 * speed))


def test_a_longer_part_arrives_sooner_and_one_of_unknown_length_as_usual():
    short, long, unknown = arrivals(one(), one(length_px=64.0), one(length_px=None))
    assert long.transit_ns < short.transit_ns == unknown.transit_ns


def test_what_is_less_sure_has_a_greater_sigma():
    (plain,) = arrivals(one())
    (later,) = arrivals(one(sigma_ns=50_000))
    (round_one,) = arrivals(one(), shape=Shape.WASHER)
    (nobody,) = arrivals(one(), shape=None)
    assert 0 < plain.sigma_ns < min(later.sigma_ns, round_one.sigma_ns, nobody.sigma_ns)
    (far,) = arrivals(one(), at_px=900.0)
    assert far.sigma_ns > plain.sigma_ns


def test_lengths_that_differ_from_part_to_part_make_heads_stray():
    alike = arrivals(*[one(id=k) for k in range(5)])
    tumbling = arrivals(*[one(id=k, length_px=20.0 + 6 * k) for k in range(5)])
    assert tumbling[0].sigma_ns > 3 * alike[0].sigma_ns


def test_where_the_height_is_unknown_passages_stay_in_place():
    slow, fast = arrivals(one(speed_px_s=3000.0), one(), at_px=None)
    assert (slow.transit_ns, fast.transit_ns) == (0, 0)
    # Half of the view may lie between line and beam.
    assert fast.common_ns == pytest.approx(1e9 * 80.0 / 6000.0)
    assert slow.common_ns == pytest.approx(2 * fast.common_ns)


def test_a_part_on_its_way_back_was_at_a_beam_below_before():
    (back,) = arrivals(one(direction=Direction.AGAINST, speed_px_s=-2000.0))
    assert back.transit_ns < 0


def test_parts_look_longer_than_they_are():
    some = [one(length_px=length) for length in (33.0, 34.0, 35.0)]
    assert halo_px([one(length_px=None)], 32.0) == 0.0
    assert halo_px(some, None) == halo_px(some, 32.0) == HALO_PX
    # Far longer: the exposure has smeared them. Shorter: no size that fits the picture.
    assert halo_px(some, 24.0) == 10.0
    assert halo_px(some, 60.0) == HALO_PX
    assert halo_px(some, 5.0) == HALO_PX


def test_what_the_signature_knows_of_leads_is_no_spread_of_heads():
    place = beam_place(outlet(beam={"at_px": 120.0}), FALLING, (one(),))
    given = {"head_share": 0.5, "usual_px": 32.0, "interval_s": 1 / 120, "unit_px": 4.0}
    (unknown,), (known,) = (
        carried((one(),), place, view_px=160.0, shape=Shape.WASHER, leads=leads, **given)
        for leads in (False, True)
    )
    assert known.sigma_ns < 0.5 * unknown.sigma_ns
    assert known.transit_ns == unknown.transit_ns


def test_in_place_a_longer_part_comes_sooner_by_what_its_head_is_ahead():
    usual, longer = arrivals(
        one(), one(length_px=32.0), one(length_px=44.0), at_px=None, shape=Shape.SCREW
    )[1:]
    # Half of 12 px at 6000 px/s.
    assert longer.transit_ns - usual.transit_ns == pytest.approx(-1e6, rel=1e-6)
    assert usual.transit_ns == 0
