"""Delays that others choose, and what they tell of pours to come."""

import numpy as np
import pytest
from poured_by_hand import drawn_strokes, poured

from viscount.gate.best import best_delay
from viscount.gate.cuts import plan_cuts
from viscount.gate.left_out import delays_of_others
from viscount.gate.places import Places

PLACES = Places(beam=-20.0, blade=60.0)


def trials(rng: np.random.Generator, pours: int, strokes: int = 8) -> tuple:  # type: ignore[type-arg]
    """Return windows of a stream and gate that vary from pour to pour and stroke to stroke."""
    middle = rng.standard_normal((pours, 1, 1)) + 0.5 * rng.standard_normal((1, 1, strokes)) + 9.0
    stroke = np.broadcast_to(np.arange(strokes), (pours, 1, strokes))
    return middle - 0.9, middle + 0.9, stroke


@pytest.mark.parametrize(("pours", "least"), [(3, -0.08), (6, -0.04), (12, -0.04)])
def test_on_average_what_others_foresee_comes_true(pours: int, least: float) -> None:
    measured, told, true = [], [], []
    for seed in range(150):
        rng = np.random.default_rng([seed, pours])
        early, late, stroke = trials(rng, pours)
        best = best_delay(early.ravel(), late.ravel())
        assert best is not None
        coming = rng.standard_normal(4000) + 0.5 * rng.standard_normal(4000) + 9.0
        true.append(np.mean(np.abs(coming - best.delay_s) <= 0.9))
        measured.append(best.chance)
        delays = delays_of_others(early, late, stroke, strokes=8, else_s=0.0)[:, None, :]
        told.append(np.mean((early <= delays) & (delays <= late)))
    off = np.array(told) - true
    # The chance of the very pours by which a delay was chosen is too good by far.
    assert np.mean(measured) - np.mean(true) > 2 * abs(off.mean())
    # One pour less to choose by costs a little, most where there are three.
    assert least < off.mean() < 0.01 + 2 * off.std() / len(off) ** 0.5


def test_neither_a_pour_nor_a_stroke_has_a_say_in_its_own_delay() -> None:
    """Three pours and two strokes, each wanting a delay of its own."""
    wanted = np.array([1.0, 2.0, 3.0])[:, None, None] + np.array([0.0, 10.0])
    stroke = np.broadcast_to(np.arange(2), wanted.shape)
    delays = delays_of_others(wanted, wanted, stroke, strokes=2, else_s=0.0)
    for pour in range(3):
        for own in range(2):
            others = np.delete(wanted[:, 0, 1 - own], pour)
            assert delays[pour, own] in others


def test_alone_there_are_no_others() -> None:
    one = np.full((1, 1, 1), 5.0)
    stroke = np.zeros((1, 1, 1), dtype=np.int64)
    assert delays_of_others(one, one + 1.0, stroke, strokes=1, else_s=0.0) == 5.5


def test_where_the_others_know_of_no_delay_that_of_all_stands() -> None:
    early = np.array([1.0, 5.0])[:, None, None]
    late = np.array([2.0, 4.0])[:, None, None]
    delays = delays_of_others(early, late, np.zeros((2, 1, 1), np.int64), strokes=1, else_s=1.25)
    # The second suits no delay: the first is left to that of all.
    assert delays.ravel().tolist() == [1.25, 1.5]


def test_the_plan_tells_each_pour_by_the_delay_of_the_others() -> None:
    """Two pours whose windows lie apart: either alone cuts one of two, for a third it is none."""
    pours = [poured([0.0, 0.012], speed, half_mm=2.0) for speed in (1500.0, 700.0)]
    (row,) = plan_cuts(pours, PLACES, drawn_strokes(5, 1, reach_ms=5.0, takes_ms=1.0)).rows
    assert row.trigger.chance == pytest.approx(0.5)
    assert row.outcome is not None
    assert row.outcome.exact.estimate == 0.0
    assert row.outcome.exact.low == 0.0
    assert row.expected is False
