"""The scale by a checkerboard, drawn as a pinhole camera sees it."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.measure.scale.checkerboard import by_checkerboard

MIDDLE = (239.5, 159.5)
DISTANCE_MM, SQUARE_MM = 300.0, 8.0


def board(*, tilt_deg: float = 0.0, turn_deg: float = 0.0, scale: float = 4.0) -> NDArray[np.uint8]:
    """Return a board of 9 x 6 squares (8 x 5 inner corners), nodding by `tilt_deg`."""
    fine = 3
    rows, columns = np.mgrid[0 : 480 * fine, 0 : 320 * fine]
    y = ((rows + 0.5) / fine - 0.5 - MIDDLE[0]) / scale
    x = ((columns + 0.5) / fine - 0.5 - MIDDLE[1]) / scale
    tilt, turn = math.radians(tilt_deg), math.radians(turn_deg)
    down = y / (math.cos(tilt) - y * math.sin(tilt) / DISTANCE_MM)
    beside = x * (1 + down * math.sin(tilt) / DISTANCE_MM)
    u = down * math.cos(turn) + beside * math.sin(turn)
    v = beside * math.cos(turn) - down * math.sin(turn)
    i, j = np.floor(u / SQUARE_MM + 4.5), np.floor(v / SQUARE_MM + 3)
    picture = np.where((i + j) % 2 == 0, 40.0, 220.0)
    picture[(i < 0) | (i >= 9) | (j < 0) | (j >= 6)] = 230.0
    picture = picture.reshape(480, fine, 320, fine).mean((1, 3))
    picture += 2.0 * np.random.default_rng(1).normal(size=picture.shape)
    return picture.clip(0, 255).astype(np.uint8)


@pytest.mark.parametrize("turn", [0.0, 5.0, -12.0])
@pytest.mark.parametrize("tilt", [0.0, 3.0, -10.0])
def test_scale_and_its_change(tilt: float, turn: float):
    way = by_checkerboard(
        board(tilt_deg=tilt, turn_deg=turn), (5, 8), SQUARE_MM, middle_px=MIDDLE, source="x"
    )
    assert way.value is not None
    true = 4.0 * math.cos(math.radians(tilt))
    assert way.value == pytest.approx(true, rel=3e-3)
    assert abs(way.value - true) < way.budget.expanded
    # dy/dz of a plane that nods by q at D: 1 - 2 z sin q / D, over 120 mm.
    assert way.change == pytest.approx(-2 * math.sin(math.radians(tilt)) * 120 / 300, abs=0.012)
    assert bool(way.notices) is (abs(way.change) > 0.05)


def test_either_way_round():
    ways = [
        by_checkerboard(board(), corners, SQUARE_MM, middle_px=MIDDLE, source="x")
        for corners in ((5, 8), (8, 5))
    ]
    assert ways[0].value == pytest.approx(ways[1].value, rel=1e-3)


@pytest.mark.parametrize("corners", [(6, 9), (4, 4)])
def test_another_board(corners: tuple[int, int]):
    picture = board() if corners == (6, 9) else np.full((480, 320), 100, np.uint8)
    way = by_checkerboard(picture, corners, SQUARE_MM, middle_px=MIDDLE, source="x")
    assert way.value is None
    (notice,) = way.notices
    assert notice.code is Code.NO_TICKS
    assert "inner corners" in notice.text
