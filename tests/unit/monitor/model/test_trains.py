"""Both event trains, told at the time of the line."""

import numpy as np
import pytest
from watched import SPEED, passage, pulse, set_up

from viscount.monitor.model.ring import Ring
from viscount.monitor.model.trains import Trains
from viscount.values import Direction, Pairing, Pairs

BELOW = 40.0
WAY_S = (BELOW - 15.0) / SPEED
"""From the centre at the line until the head is at the beam."""


def trains(count: int = 5, below: float | None = BELOW) -> Trains:
    made = Trains(below)
    made.passed([passage(k, 1.0 + 0.1 * k) for k in range(count)], set_up())
    pulses = [pulse(k, 1.0 + 0.1 * k + WAY_S) for k in range(count)]
    made.pulsed(pulses, [p.start_ns for p in pulses])
    return made


def agreed(number: int) -> Pairing:
    return Pairing(kind=Pairs.AGREED, passages=(number,), pulses=(number,), parts=1, doubt=0.0)


def test_a_pulse_stands_below_its_part() -> None:
    shown = trains().within(0.9, 1.6)
    assert shown.passages[:, 0] == pytest.approx([1.0, 1.1, 1.2, 1.3, 1.4])
    assert shown.pulses[:, 0] == pytest.approx(shown.passages[:, 0], abs=1e-9)


def test_where_the_beam_is_unknown_pulses_stay_where_they_are() -> None:
    shown = trains(below=None).within(0.9, 1.6)
    assert shown.pulses[:, 0] - shown.passages[:, 0] == pytest.approx(5 * [WAY_S])
    assert not trains(below=None).carries


def test_the_way_is_that_of_the_fall() -> None:
    made = Trains(-300.0)
    made.passed([passage(1, 1.0, speed_px_s=6000.0)], set_up(acceleration=39_000.0))
    # By steps: back from the line until the head has come to the beam.
    t, y, v = 0.0, 0.0, 6000.0
    while y > -300.0 - 15.0:
        v -= 39_000.0 * 1e-6
        y -= v * 1e-6
        t -= 1e-6
    at_beam = np.array([1.0 + t])
    assert made.at_line(at_beam) == pytest.approx([1.0], abs=1e-5)


def test_pairings_are_shown_with_both_ends() -> None:
    made = trains()
    alone = Pairing(kind=Pairs.CAMERA_ONLY, passages=(1,), pulses=(), parts=1, doubt=0.01)
    made.paired([agreed(0), alone, agreed(7)])
    links = made.within(0.9, 1.6).links
    assert [link.pairing.kind for link in links] == [Pairs.AGREED, Pairs.CAMERA_ONLY]
    assert [link.agrees for link in links] == [True, False]
    assert links[0].passages_s[0] == pytest.approx(links[0].pulses_s[0][0])
    assert made.within(0.9, 1.6).paired.tolist() == [1.0, 1.0, 0.0, 0.0, 0.0]


def test_a_fitted_clock_moves_pulses() -> None:
    made = trains()
    made.placed({0: 1.0 + WAY_S + 0.002})
    shown = made.within(0.9, 1.6).pulses
    assert shown[0, 0] == pytest.approx(1.002, abs=1e-4)
    assert shown[0, 1] - shown[0, 0] == pytest.approx(0.02)


def test_counts_go_by_time_and_direction() -> None:
    made = trains()
    made.passed([passage(9, 1.45, direction=Direction.AGAINST)], None)
    assert made.counts(1.25) == (3, 3)
    assert made.counts(2.0) == (4, 5)
    assert made.counted_before(1.15) == 2
    assert made.counted_before(9.0) == 4


def test_only_the_latest_are_kept_and_the_count_goes_on() -> None:
    made = Trains(BELOW, most=100)
    held = made.nbytes
    for k in range(5000):
        made.passed([passage(k, 0.01 * k)], set_up())
        one = pulse(k, 0.01 * k)
        made.pulsed([one], [one.start_ns])
        made.paired([agreed(k)])
    assert made.sizes == (100, 100, 100)
    assert made.nbytes == held
    assert made.counted_before(100.0) == 5000
    assert made.last_s == pytest.approx(49.99)


def test_a_part_is_followed_after_the_line() -> None:
    made = trains(1)
    assert len(made.under_way(0.99)) == 0
    ((across, along),) = made.under_way(1.02)
    assert (across, along) == (30.0, pytest.approx(0.02 * SPEED))
    path = made.path(1.0, np.array([0.99, 1.01]))
    assert path is not None
    assert path[:, 1] == pytest.approx([-15.0, 15.0])
    assert made.path(1.5, np.array([1.5])) is None


def test_a_ring_keeps_the_latest_rows_in_order() -> None:
    ring = Ring(7, 2)
    for k in range(100):
        ring.add(k, -k)
        first = max(k - 6, 0)
        assert ring.rows[:, 0].tolist() == list(range(first, k + 1))
    ring.clear()
    assert len(ring) == 0
