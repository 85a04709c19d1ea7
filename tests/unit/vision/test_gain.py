import numpy as np
import pytest

from viscount.vision.gain import lit, within

LEVEL = np.arange(12, dtype=np.float32).reshape(3, 4) * 20
ROWS = np.array([[0.5], [1.0], [2.0]], np.float32)
COLUMNS = np.array([[0.5, 1.0, 1.0, 2.0]], np.float32)


def test_a_gain_of_one_changes_nothing() -> None:
    assert lit(LEVEL, 1.0) is LEVEL


@pytest.mark.parametrize("gain", [0.5, 2.0, ROWS, COLUMNS])
def test_light_stops_at_full_white(gain) -> None:
    assert (lit(LEVEL, gain) == np.minimum(LEVEL * gain, 255)).all()


@pytest.mark.parametrize("gain", [0.5, ROWS, COLUMNS])
def test_a_part_of_the_picture_has_its_part_of_the_gain(gain) -> None:
    rows, columns = slice(1, 3), slice(2, 4)
    there = lit(LEVEL[rows, columns], within(gain, rows, columns))
    assert (there == lit(LEVEL, gain)[rows, columns]).all()
