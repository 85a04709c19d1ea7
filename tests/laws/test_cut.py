"""What must hold of every plan of a cut."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from poured_by_hand import poured, strokes

from viscount.gate.cuts import plan_cuts
from viscount.gate.places import Lateness, Places
from viscount.gate.rows import CutRow
from viscount.gate.strokes import Strokes
from viscount.stream import Poured

PLACES = Places(beam=-10.0, blade=30.0)
FEW = settings(max_examples=15, deadline=None)


@st.composite
def streams(draw: st.DrawFn) -> list[Poured]:
    count = draw(st.integers(2, 6))
    made = []
    for _ in range(draw(st.integers(1, 3))):
        gaps = draw(st.lists(st.floats(0.004, 0.06), min_size=count, max_size=count))
        speeds = draw(st.lists(st.floats(900.0, 2500.0), min_size=count, max_size=count))
        made.append(poured(np.cumsum(gaps), speeds, half_mm=draw(st.floats(1.0, 6.0))))
    return made


@st.composite
def gates(draw: st.DrawFn) -> Strokes:
    times = st.lists(st.tuples(st.floats(0.0, 60.0), st.floats(0.0, 12.0)), min_size=1, max_size=8)
    reach, takes = np.array(draw(times)).T
    return strokes(reach, reach + takes)


def own(row: CutRow, back: int = 0) -> float:
    """The chance with the best delay from part N - back."""
    return row.triggers[back].chance or 0.0


@FEW
@given(pours=streams(), gate=gates(), later=st.floats(-1e3, 1e3))
def test_when_the_clip_began_does_not_matter(
    pours: list[Poured], gate: Strokes, later: float
) -> None:
    shifted = [replace(pour, t_s=pour.t_s + later) for pour in pours]
    for a, b in zip(
        plan_cuts(pours, PLACES, gate).rows, plan_cuts(shifted, PLACES, gate).rows, strict=True
    ):
        assert b.trigger.clear_s == pytest.approx(a.trigger.clear_s, abs=1e-9)
        assert b.trigger.arrive_s == pytest.approx(a.trigger.arrive_s, abs=1e-9)
        assert b.gap_s == pytest.approx(a.gap_s, abs=1e-9)


@FEW
@given(pours=streams(), gate=gates(), factor=st.floats(0.3, 3.0))
def test_inches_do_as_well_as_millimetres(
    pours: list[Poured], gate: Strokes, factor: float
) -> None:
    other = [
        replace(
            pour,
            speed=pour.speed * factor,
            ahead=pour.ahead * factor,
            behind=pour.behind * factor,
            acceleration=pour.acceleration * factor,
        )
        for pour in pours
    ]
    places = Places(beam=PLACES.beam * factor, blade=PLACES.blade * factor)
    for a, b in zip(
        plan_cuts(pours, PLACES, gate).rows, plan_cuts(other, places, gate).rows, strict=True
    ):
        assert b.trigger.clear_s == pytest.approx(a.trigger.clear_s, abs=1e-9)
        assert b.interval_s == pytest.approx(a.interval_s, abs=1e-9)


@FEW
@given(pours=streams(), gate=gates())
def test_outcomes_are_everything_that_can_happen(pours: list[Poured], gate: Strokes) -> None:
    for row in plan_cuts(pours, PLACES, gate).rows:
        if row.outcome is None:
            assert row.trigger.chance == 0.0
            continue
        out = row.outcome
        chances = (out.exact, out.short, out.over, out.pinched)
        assert sum(c.estimate for c in chances) == pytest.approx(1.0)
        if row.pours == 1 and len(gate.shutting) == 1:
            assert out.exact.estimate == pytest.approx(row.trigger.chance)
        assert all(c.low <= c.estimate + 1e-9 for c in chances)
        assert all(c.estimate <= c.high + 1e-9 for c in chances)


@FEW
@given(pours=streams(), gate=gates())
def test_a_window_that_fits_is_an_exact_cut(pours: list[Poured], gate: Strokes) -> None:
    for row in plan_cuts(pours, PLACES, gate).rows:
        for trigger in row.triggers:
            if trigger.fits and trigger.window is not None:
                assert trigger.chance == 1.0
                assert trigger.delay_s is not None
                low = max(trigger.window.earliest_s, 0.0)
                assert low - 1e-9 <= trigger.delay_s <= trigger.window.latest_s + 1e-9


@FEW
@given(pours=streams(), gate=gates(), share=st.floats(0.0, 1.0))
def test_a_faster_stroke_never_lowers_the_chance(
    pours: list[Poured], gate: Strokes, share: float
) -> None:
    """The blade enters as late as before, and has closed the stream sooner."""
    moves = gate.shutting
    takes = moves.done_s - moves.begins_s
    fast = Strokes(shutting=replace(moves, done_s=moves.begins_s + share * takes))
    for a, b in zip(
        plan_cuts(pours, PLACES, gate).rows, plan_cuts(pours, PLACES, fast).rows, strict=True
    ):
        for back in range(len(a.triggers)):
            # Delays as good as the best are taken by the middle: they may be a thousandth worse.
            assert own(b, back) >= own(a, back) - 2e-3


@FEW
@given(pours=streams(), gate=gates(), jitter_ms=st.floats(0.1, 5.0))
def test_commands_that_vary_more_never_raise_the_chance(
    pours: list[Poured], gate: Strokes, jitter_ms: float
) -> None:
    """The mean over delays near one is at most the chance of the best; but for what draws do."""
    steady = plan_cuts(pours, PLACES, gate).rows
    loose = plan_cuts(pours, PLACES, gate, lateness=Lateness(jitter_s=1e-3 * jitter_ms)).rows
    for a, b in zip(steady, loose, strict=True):
        for back in range(len(a.triggers)):
            # Nothing comes before the edge, but a command that varies may come before its time.
            if a.triggers[back].least_s:
                assert own(b, back) <= own(a, back) + 0.06


@FEW
@given(pours=streams(), gate=gates(), wider_ms=st.floats(0.0, 5.0))
def test_a_stroke_that_spreads_more_never_widens_a_window(
    pours: list[Poured], gate: Strokes, wider_ms: float
) -> None:
    moves = gate.shutting
    wide = strokes(
        np.append(moves.begins_s, max(moves.begins_s.min() - 1e-3 * wider_ms, 0.0)) * 1e3,
        np.append(moves.done_s, moves.done_s.max() + 1e-3 * wider_ms) * 1e3,
    )
    for a, b in zip(
        plan_cuts(pours, PLACES, gate).rows, plan_cuts(pours, PLACES, wide).rows, strict=True
    ):
        for one, other in zip(a.triggers, b.triggers, strict=True):
            assert one.window is not None
            assert other.window is not None
            assert other.window.width_s <= one.window.width_s + 1e-12


@FEW
@given(pours=streams(), gate=gates(), raised_ms=st.floats(0.0, 10.0))
def test_a_gate_that_is_late_is_commanded_as_much_earlier(
    pours: list[Poured], gate: Strokes, raised_ms: float
) -> None:
    raised = strokes(
        1e3 * gate.shutting.begins_s + raised_ms, 1e3 * gate.shutting.done_s + raised_ms
    )
    for a, b in zip(
        plan_cuts(pours, PLACES, gate).rows, plan_cuts(pours, PLACES, raised).rows, strict=True
    ):
        for one, other in zip(a.triggers, b.triggers, strict=True):
            assert one.window is not None
            assert other.window is not None
            assert one.window.earliest_s - other.window.earliest_s == pytest.approx(
                1e-3 * raised_ms, abs=1e-12
            )
            if one.least_s and one.least_s > 1e-3 * raised_ms + 1e-9 and other.delay_s:
                assert one.chance == pytest.approx(other.chance)
                assert one.delay_s is not None
                assert one.delay_s - other.delay_s == pytest.approx(1e-3 * raised_ms, abs=1e-9)
