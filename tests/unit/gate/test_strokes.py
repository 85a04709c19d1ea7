"""Strokes as values: their times follow each other."""

import numpy as np
import pytest
from poured_by_hand import moves

from viscount.errors import UsageError
from viscount.gate.strokes import Moves


def test_a_stroke_is_the_latest_end_less_the_earliest_beginning() -> None:
    found = moves([8.0, 10.0], [12.0, 18.0])
    assert len(found) == 2
    assert found.stroke_s == pytest.approx(0.010)


@pytest.mark.parametrize(
    ("first", "begins", "done"),
    [
        ([np.nan], [5.0], [4.0]),
        ([6.0], [5.0], [7.0]),
        ([np.nan], [-1.0], [4.0]),
        ([np.nan], [np.nan], [4.0]),
        ([np.nan], [1.0, 2.0], [4.0, 5.0]),
        ([], [], []),
    ],
)
def test_times_out_of_order_are_refused(
    first: list[float], begins: list[float], done: list[float]
) -> None:
    with pytest.raises(UsageError):
        Moves(first_motion_s=np.array(first), begins_s=np.array(begins), done_s=np.array(done))
