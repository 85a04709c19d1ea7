"""The waist of a region, however it lies in the picture."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pictures import empty, pixels, sampled, with_part

from viscount.motion.findings import WAIST
from viscount.vision.centre import along_fall
from viscount.vision.noise import threshold_map
from viscount.vision.regions import Scene, find_regions

SHAPE = (90, 90)
MIDDLE = 44.3


def waist(inside, turn: float) -> float | None:
    """The waist of a part whose `inside` speaks of its own directions, turned in the picture."""

    def turned(across, down):
        x, y = across - MIDDLE, down - MIDDLE
        return inside(x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn))

    taken = pixels(with_part(empty(SHAPE), sampled(SHAPE, turned), 40.0), None, 0.0)
    level = np.full(SHAPE, 100.3, np.float32)
    sigma = np.full(SHAPE, 0.5, np.float32)
    threshold = threshold_map(level, sigma, threshold_sigma=4.5, least_contrast=4)
    mask = (np.abs(taken - 100.0) > threshold).view(np.uint8)
    regions = find_regions(mask, Scene(pixels=taken, level=level, sigma=sigma), least_area_px=4)
    (blob,) = along_fall(regions, SHAPE, vertical=True)
    return blob.waist


def two_discs(u, v):
    return np.minimum((u - 10) ** 2, (u + 10) ** 2) + v**2 <= 10.5**2


def two_squares_by_a_corner(u, v):
    # Along their common diagonal.
    return np.minimum(np.abs(u - 10), np.abs(u + 10)) + np.abs(v) <= 10.5


def two_screws_in_a_row(u, v):
    def one(start):
        head = (u >= start) & (u < start + 8) & (np.abs(v) <= 9)
        return head | ((u >= start + 8) & (u < start + 30) & (np.abs(v) <= 4.5))

    return one(-30) | one(0)


def two_screws_side_by_side(u, v):
    # As long as they are broad together.
    beside = np.minimum(np.abs(u - 9), np.abs(u + 9))
    head = (v >= -18) & (v < -10) & (beside <= 9.5)
    return head | ((v >= -10) & (v < 18) & (beside <= 4.5))


def two_screws_that_cover_one_another(u, v):
    # Longer than they are broad together, at a slant; between their shanks there is a cleft.
    def one(middle, turn):
        x, y = u - middle, v + 28
        along, across = y * np.cos(turn) + x * np.sin(turn), x * np.cos(turn) - y * np.sin(turn)
        head = (along >= 0) & (along < 10) & (np.abs(across) <= 9)
        return head | ((along >= 10) & (along < 58) & (np.abs(across) <= 4))

    return one(-5, -0.05) | one(5, 0.15)


def two_nuts_that_cover_one_another(u, v):
    # A little, as rings do whose bores count for the moments.
    def one(middle):
        x, y = u - middle, v
        far = np.maximum(
            np.abs(y), np.maximum(np.abs(0.866 * x + 0.5 * y), np.abs(0.866 * x - 0.5 * y))
        )
        return (far <= 12) & (x**2 + y**2 >= 6.5**2)

    return one(-11) | one(11)


def a_screw(u, v):
    head = (u >= -19) & (u < -11) & (np.abs(v) <= 9)
    return head | ((u >= -11) & (u < 19) & (np.abs(v) <= 4.5))


def a_ring_askew(u, v):
    far = (u / 20) ** 2 + (v / 9) ** 2
    return (far <= 1) & (far >= 0.2)


def a_washer(u, v):
    far = u**2 + v**2
    return (far <= 20**2) & (far >= 10**2)


def a_plate(u, v):
    return (np.abs(u) <= 20) & (np.abs(v) <= 2)


TURNS = st.floats(0.0, np.pi)


@settings(max_examples=15)
@given(turn=TURNS)
@pytest.mark.parametrize(
    "two",
    [
        *(two_discs, two_squares_by_a_corner, two_screws_in_a_row, two_screws_side_by_side),
        *(two_screws_that_cover_one_another, two_nuts_that_cover_one_another),
    ],
)
def test_two_parts_that_touch_have_one(two, turn: float) -> None:
    found = waist(two, turn)
    assert found is not None
    assert found < WAIST


@settings(max_examples=15)
@given(turn=TURNS)
def test_between_two_long_ones_the_cleft_is_told(turn: float) -> None:
    """It reaches three quarters of the way up; across, the region has 0.7 of its breadth left."""
    found = waist(two_screws_that_cover_one_another, turn)
    assert found is not None
    assert found < 0.4


@settings(max_examples=15)
@given(turn=TURNS)
@pytest.mark.parametrize("one", [a_screw, a_ring_askew, a_washer, a_plate])
def test_one_part_has_none(one, turn: float) -> None:
    found = waist(one, turn)
    assert found is not None
    assert found > WAIST


def test_what_fills_its_box_or_is_small_is_not_asked() -> None:
    assert waist(lambda u, v: u**2 + v**2 <= 12**2, 0.3) is None
    assert waist(lambda u, v: u**2 + v**2 <= 4**2, 0.3) is None
    assert waist(lambda u, v: (np.abs(u) <= 4) & (np.abs(v) <= 1), 0.3) is None
