"""What is foreseen of a cut, beside what comes."""

import numpy as np
import pytest

from viscount.gate.best import best_delay
from viscount.gate.foreseen import foreseen


def trials(rng: np.random.Generator, pours: int, strokes: int = 8) -> tuple:  # type: ignore[type-arg]
    """Return windows of a stream and gate that vary from pour to pour and stroke to stroke."""
    middle = rng.standard_normal((pours, 1, 1)) + 0.5 * rng.standard_normal((1, 1, strokes))
    stroke = np.broadcast_to(np.arange(strokes), (pours, 1, strokes))
    return middle - 0.9, middle + 0.9, stroke


@pytest.mark.parametrize(("pours", "least"), [(3, -0.12), (6, -0.06), (12, -0.06)])
def test_on_average_what_is_foreseen_comes_true(pours: int, least: float):
    measured, told, true = [], [], []
    for seed in range(150):
        rng = np.random.default_rng([seed, pours])
        early, late, stroke = trials(rng, pours)
        best = best_delay(early.ravel(), late.ravel(), from_s=-9.0)
        assert best is not None
        coming = rng.standard_normal(4000) + 0.5 * rng.standard_normal(4000)
        true.append(np.mean(np.abs(coming - best.delay_s) <= 0.9))
        measured.append(best.chance)
        # Delays are never before the edge: all moments moved up, so that none would be.
        chance = foreseen(early + 9.0, late + 9.0, stroke)
        assert chance is not None
        told.append(chance)
    off = np.array(told) - true
    # The chance of the very pours by which a delay was chosen is too good by far.
    assert np.mean(measured) - np.mean(true) > 2 * abs(off.mean())
    # One pour less to choose by costs a little, most where there are three.
    assert least < off.mean() < 0.02 + 2 * off.std() / len(off) ** 0.5


def test_pours_and_strokes_that_are_alike_foresee_what_was_measured():
    early = np.zeros((4, 3, 5))
    stroke = np.broadcast_to(np.arange(5), early.shape)
    assert foreseen(early, early + 1.0, stroke) == 1.0
    assert foreseen(early + 1.0, early, stroke) == 0.0


def test_one_stroke_is_taken_as_it_is():
    early = np.zeros((3, 1, 1))
    assert foreseen(early, early + 1.0, np.zeros((3, 1, 1), dtype=np.int64)) == 1.0


def test_one_pour_foresees_nothing():
    early = np.zeros((1, 2, 5))
    assert foreseen(early, early + 1.0, np.zeros(early.shape, dtype=np.int64)) is None
