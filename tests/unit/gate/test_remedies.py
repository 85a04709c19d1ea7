"""What would help: each figure, taken up, makes the cut fit."""

from dataclasses import replace

import numpy as np
import pytest
from poured_by_hand import G, column, poured, strokes

from viscount.gate.cuts import CutPlan, plan_cuts
from viscount.gate.places import Places
from viscount.gate.remedies import Remedies, slowed
from viscount.gate.strokes import Strokes
from viscount.stream import Poured

PLACES = Places(beam=-20.0, blade=20.0, lip=-100.0)
GATE = strokes([8.0, 8.5], [12.0, 13.0])
WANTED = 6


def plan(pour: Poured, places: Places = PLACES, gate: Strokes = GATE) -> CutPlan:
    return plan_cuts([pour], places, gate, each=WANTED)


def helps(pour: Poured, places: Places = PLACES, gate: Strokes = GATE) -> Remedies:
    found = plan(pour, places, gate).remedies
    assert found is not None
    return found


def test_a_lower_blade_by_so_much_fits_and_a_little_less_does_not() -> None:
    pour, gate = column(20), strokes([8.0], [16.5])
    found = helps(pour, gate=gate)
    assert not found.enough
    assert found.lower_by is not None
    for share, fits in ((1.001, True), (0.99, False)):
        lower = replace(PLACES, blade=PLACES.blade + share * found.lower_by)
        assert plan(pour, lower, gate).rows[0].trigger.fits is fits


def test_above_the_ceiling_no_height_will_do() -> None:
    """A column's gap never exceeds interval(lip) (1 - a/g): 60 parts in 530 ms, 5.5 mm apart.

    Its a is 2.350 m/s²; the intervals at the lip are 28.342 ms at first, 6.299 ms at the 30th and
    4.435 ms at last (calculated).
    """
    a = 2 * 60 * 5.5 / 0.530**2
    pour = column(60, acceleration=a)
    rows = plan_cuts([pour], PLACES, None).rows
    for number, interval_ms in ((1, 28.342), (29, None), (59, 4.435)):
        lip_ms = 1e3 * 0.530 * (np.sqrt((number + 1) / 60) - np.sqrt(number / 60))
        if interval_ms is not None:
            assert lip_ms == pytest.approx(interval_ms, abs=5e-4)
        ceiling_s = rows[number - 1].gap_ceiling_s
        assert ceiling_s is not None
        assert 1e3 * ceiling_s == pytest.approx(lip_ms * (1 - a / G), rel=1e-9)
        assert rows[number - 1].gap_s < ceiling_s
    assert 1e3 * 0.530 * (np.sqrt(30 / 60) - np.sqrt(29 / 60)) == pytest.approx(6.299, abs=5e-4)
    late = plan_cuts([pour], PLACES, strokes([8.0], [13.0]), each=40).remedies
    assert late is not None
    assert late.ceiling_s is not None
    assert late.ceiling_s < late.need_s == pytest.approx(0.005)
    assert late.lower_by is None


def test_a_slower_column_by_so_much_fits() -> None:
    pour = column(20, acceleration=4000.0)
    found = helps(pour)
    assert found.column_at_lip
    assert found.slower is not None
    assert found.slower > 1
    for share, fits in ((1.002, True), (0.99, False)):
        # The same column, sliding with less acceleration.
        slow = column(20, acceleration=4000.0 / (share * found.slower) ** 2)
        assert plan(slow).rows[0].trigger.fits is fits


def test_a_slowed_column_is_a_column() -> None:
    slow = slowed(column(9, acceleration=4000.0), 1.7, -100.0)
    truly = column(9, acceleration=4000.0 / 1.7**2)
    assert slow.speed == pytest.approx(truly.speed)
    assert np.diff(slow.t_s) == pytest.approx(np.diff(truly.t_s))


def test_without_the_lip_only_intervals_grow() -> None:
    found = helps(column(20), replace(PLACES, lip=None))
    assert not found.column_at_lip
    slow = slowed(column(9), 1.5, None)
    assert slow.speed == pytest.approx(column(9).speed)
    assert np.diff(slow.t_s) == pytest.approx(1.5 * np.diff(column(9).t_s))


def test_singles_so_far_apart_fit() -> None:
    pour = column(20)
    found = helps(pour)
    speed = float(pour.speed[WANTED - 1])
    for more, fits in ((1e-6, True), (-1e-4, False)):
        singles = poured((found.single_interval_s + more) * np.arange(20), speed, half_mm=5.5 / 2)
        assert plan(singles).rows[0].trigger.fits is fits


def test_a_gate_that_is_so_fast_fits() -> None:
    pour = column(20)
    found = helps(pour)
    assert found.stroke_s is not None
    assert found.shut_s is not None
    for more_ms, fits in ((-0.001, True), (0.01, False)):
        shut_ms = 8.0 + 1e3 * found.stroke_s + more_ms
        assert plan(pour, gate=strokes([8.0], [shut_ms])).rows[0].trigger.fits is fits


def test_a_slow_gate_must_shut_before_the_next_head_comes() -> None:
    """The first part has none before it to command from: its own head is the earliest edge."""
    pour = poured(0.025 * np.arange(3), 1500.0)
    found = plan_cuts([pour], PLACES, strokes([60.0], [63.0]), each=1).remedies
    assert found is not None
    assert found.shut_s is not None
    for more_ms, fits in ((-0.001, True), (0.01, False)):
        shut_ms = 1e3 * found.shut_s + more_ms
        gate = strokes([shut_ms - 3.0], [shut_ms])
        assert plan_cuts([pour], PLACES, gate, each=1).rows[0].trigger.fits is fits


def test_parts_that_touch_can_be_cut_by_no_gate() -> None:
    touching = poured([0.0, 0.004], 1500.0, half_mm=4.0)
    found = plan_cuts([touching], PLACES, GATE).remedies
    assert found is not None
    assert (found.stroke_s, found.shut_s) == (None, None)


def test_the_first_number_that_fails_is_helped() -> None:
    found = plan_cuts([column(20)], PLACES, GATE)
    assert found.remedies is not None
    assert found.remedies.number == next(r.number for r in found.rows if not r.expected)


def test_where_there_is_room_nothing_is_needed() -> None:
    found = helps(poured(0.2 * np.arange(9), 1500.0))
    assert found.enough
    assert (found.lower_by, found.slower) == (0.0, 1.0)


def test_on_a_belt_there_is_no_ceiling() -> None:
    belt = poured(0.02 * np.arange(9), 1500.0, g=0.0)
    row = plan(belt).rows[0]
    assert row.gap_ceiling_s is None
    assert helps(belt).ceiling_s is None
