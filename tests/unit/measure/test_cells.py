"""The coarse grid and its light."""

import numpy as np
import pytest

from viscount.measure.cells import CELLS, EmptyCells, cell_px, cells


def empty(height: int = 96, width: int = 80) -> np.ndarray:
    return np.full((height, width), 150, np.uint8)


def test_cells_are_means():
    picture = np.zeros((CELLS * 2, CELLS * 3), np.uint8)
    picture[:2, :3] = 60
    made = cells(picture)
    assert made.shape == (CELLS, CELLS)
    assert made[0, 0] == 60
    assert made[0, 1] == 0


@pytest.mark.parametrize("size", [4, 47, 48, 49, 80, 95, 240, 1080, 2160])
def test_cells_cover_the_picture(size: int):
    made = cells(np.zeros((size, 16), np.uint8))
    assert made.shape[0] <= CELLS
    assert size - cell_px(size) * (made.shape[0] + 1) < cell_px(size)


def test_a_third_of_parts_does_not_change_the_light():
    scene = EmptyCells(cells(empty()))
    frame = np.full((96, 80), 165, np.uint8)
    frame[:, 20:46] = 30
    light = scene.lightness(cells(frame))
    assert light.whole == pytest.approx(1.1, abs=1e-3)
    assert light.rows == pytest.approx(np.full(len(light.rows), 1.1), abs=1e-3)


def test_what_is_black_or_clipped_tells_nothing():
    dark = empty()
    dark[:48] = 0
    dark[:, :40] = 255
    light = EmptyCells(cells(dark)).lightness(cells(dark))
    assert np.isnan(light.rows[0])
    assert light.whole == pytest.approx(1.0)
    assert not EmptyCells(cells(np.zeros((96, 80), np.uint8))).tells
