"""Carrying a pour from the line to another height."""

import numpy as np
import pytest

from viscount import fall
from viscount.stream import Poured, at_height

G = fall.STANDARD_GRAVITY_MM_S2


def poured(speed: list[float], t_s: list[float], *, sigma_acceleration: float = 0.0) -> Poured:
    n = len(speed)
    return Poured(
        unit="mm",
        t_s=np.array(t_s),
        sigma_s=np.full(n, 1e-4),
        speed=np.array(speed),
        sigma_speed=np.zeros(n),
        ahead=np.full(n, 3.0),
        behind=np.full(n, 5.0),
        sigma_end=0.0,
        doubt=np.zeros(n),
        acceleration=G,
        sigma_acceleration=sigma_acceleration,
    )


def test_two_parts_from_rest_keep_their_interval_and_gain_distance() -> None:
    """8.8 ms apart from rest: 17.049 mm apart when the leader is 200 mm down (calculated)."""
    leader = float(np.sqrt(2 * G * 10.0))  # both have fallen 10 mm at the line
    stream = at_height(poured([leader, leader], [0.0, 8.8e-3]), 190.0)
    assert stream.interval_s == pytest.approx([8.8e-3])
    apart = 200.0 - 0.5 * G * (np.sqrt(2 * 200.0 / G) - 8.8e-3) ** 2
    assert apart == pytest.approx(17.049, abs=5e-4)
    # The distance at that moment, by what the stream says of the second part.
    late_s = stream.centre_s[1] - stream.centre_s[0]
    place, _ = fall.place_after(190.0, stream.speed[1], G, -late_s)
    assert 190.0 - place == pytest.approx(apart, abs=1e-9)


def test_a_gap_is_from_tail_to_head() -> None:
    stream = at_height(poured([1500.0, 1500.0], [0.0, 12e-3]), 30.0)
    tail = fall.time_to(1500.0, G, 35.0)
    head = 12e-3 + fall.time_to(1500.0, G, 27.0)
    assert stream.gap_s == pytest.approx([float(head - tail)])


def test_what_all_parts_share_cancels_where_they_are_equally_fast() -> None:
    alike = at_height(poured([1500.0, 1500.0], [0.0, 12e-3], sigma_acceleration=200.0), 80.0)
    apart = at_height(poured([1500.0, 1700.0], [0.0, 12e-3], sigma_acceleration=200.0), 80.0)
    own = np.sqrt(2) * 1e-4
    assert alike.gap_sigma_s == pytest.approx([own])
    assert apart.gap_sigma_s[0] > 1.001 * own


def test_an_end_is_the_less_sure_the_longer_parts_turn() -> None:
    one = poured([1500.0] * 2, [0.0, 12e-3])
    plain = {f: getattr(one, f) for f in Poured.__slots__}
    turning = Poured(**plain | {"sigma_end_rate": 3.0})
    assert at_height(turning, 0.0).own_s == pytest.approx(at_height(one, 0.0).own_s)
    there = at_height(turning, 200.0)
    tau = there.centre_s - turning.t_s
    assert there.own_s == pytest.approx(np.hypot(turning.sigma_s, 3.0 * tau / there.speed))


@pytest.mark.parametrize("source", ["acceleration", "speed", "height"])
def test_each_common_error_is_what_a_small_change_does(source: str) -> None:
    one = poured([1400.0], [0.0], sigma_acceleration=10.0)
    one = Poured(**{f: getattr(one, f) for f in Poured.__slots__} | {"sigma_speed_share": 1e-3})
    there = at_height(one, 60.0, sigma_height=0.1)
    a, u, y = G, 1400.0, 60.0
    changed = {
        "acceleration": fall.time_to(u, a + 10.0, y),
        "speed": fall.time_to(1.001 * u, a, y),
        "height": fall.time_to(u, a, y + 0.1),
    }[source]
    assert there.common_s[source][0] == pytest.approx(
        float(changed) - float(fall.time_to(u, a, y)), rel=0.01
    )
