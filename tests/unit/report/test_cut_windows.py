"""The plot of a plan: what is drawn stands for what is planned."""

import numpy as np
import pytest
from poured_by_hand import column, poured, strokes

from viscount.gate.cuts import plan_cuts
from viscount.gate.places import Lateness, Places
from viscount.report.cut_windows import cuts_figure

PLACES = Places(beam=-20.0, blade=60.0, lip=-100.0)
GATE = strokes([8.0, 8.5], [12.0, 13.0])


def test_a_bar_is_the_room_and_the_gate_stands_where_it_is_commanded() -> None:
    plan = plan_cuts([column(20)], PLACES, GATE)
    upper, lower = cuts_figure(plan, GATE, Lateness()).axes
    bars = upper.containers
    rooms = [bar.get_height() for bar in bars[0]]
    expected = [max(1e3 * (r.trigger.arrive_s - r.trigger.clear_s), 0.0) for r in plan.rows]
    assert rooms == pytest.approx(expected)
    first = plan.rows[0].trigger
    assert first.delay_s is not None
    reach, shut = bars[1][0], bars[2][0]
    assert reach.get_y() == pytest.approx(1e3 * (first.delay_s - first.clear_s) + 8.0)
    assert shut.get_y() + shut.get_height() == pytest.approx(
        1e3 * (first.delay_s - first.clear_s) + 13.0
    )
    # What fits lies within its bar.
    assert 0 <= reach.get_y() <= shut.get_y() + shut.get_height() <= rooms[0]
    points = lower.containers[0].lines[0]
    told = [row.outcome.exact.estimate for row in plan.rows if row.outcome]
    assert points.get_ydata() == pytest.approx(100 * np.array(told))


def test_the_title_says_what_the_plan_comes_to() -> None:
    def title(plan) -> str:  # type: ignore[no-untyped-def]
        return cuts_figure(plan, GATE if plan.strokes else None, Lateness()).texts[0].get_text()

    assert title(plan_cuts([column(20)], PLACES, GATE)).startswith("Up to ")
    assert title(plan_cuts([column(20)], PLACES, GATE, each=3)) == "The cut after part 3"
    assert title(plan_cuts([poured([0.0, 0.004], 1500.0)], PLACES, GATE)) == (
        "The cut after part 1"
    )
    assert title(plan_cuts([column(20)], PLACES)).startswith("The room for the gate")


def test_without_strokes_there_is_one_panel() -> None:
    assert len(cuts_figure(plan_cuts([column(5)], PLACES), None, Lateness()).axes) == 1


def test_where_there_is_no_room_a_cross_says_so() -> None:
    upper = cuts_figure(plan_cuts([poured([0.0, 0.004, 0.1], 1500.0)], PLACES), None, Lateness())
    (cross,) = [line for line in upper.axes[0].lines if line.get_label() == "no room"]
    assert list(cross.get_xdata()) == [1]
