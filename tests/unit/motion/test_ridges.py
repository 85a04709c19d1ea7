"""Paths of speed through the votes."""

import numpy as np
import pytest

from viscount.motion.ridges import best_path, standing_out


def votes(steps: list[int], width: int = 120) -> np.ndarray:
    found = np.zeros((len(steps), width))
    for window, step in enumerate(steps):
        found[window, step - 1 : step + 2] = [6.0, 9.0, 6.0]
    return found


STEADY, STEEP = [40, 41, 40, 42, 41], [20, 33, 45, 56, 66]


@pytest.mark.parametrize(("path", "trend"), [(STEADY, 0), (STEEP, 12)])
def test_a_path_of_that_trend_is_found(path: list[int], trend: int) -> None:
    assert best_path(votes(path), trend).tolist() == path
    assert next(p.tolist() for p in standing_out(votes(path), 2.0, trend)) == path


def test_a_steep_one_is_none_of_little_trend() -> None:
    """A short column's speed grows by a fifth from window to window."""
    assert best_path(votes(STEEP)).tolist() != STEEP
