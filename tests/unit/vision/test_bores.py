"""How many bores a region shows."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pictures import empty, pixels, sampled, with_part

from viscount.vision.bores import bores_of
from viscount.vision.centre import along_fall
from viscount.vision.regions import Scene, find_regions

SHAPE = (90, 90)


def ring(x: float, y: float, outer: float = 16.0, bore: float = 7.5):
    """A washer about a place, 9 mm and 4.3 mm at 3.6 px per mm."""

    def inside(across, down):
        away = (across - x) ** 2 + (down - y) ** 2
        return (away <= outer**2) & (away > bore**2)

    return inside


def both(one, other):
    return lambda across, down: one(across, down) | other(across, down)


def shown(inside) -> list[int | None]:
    """The bores of each region that a picture of these parts shows."""
    taken = pixels(with_part(empty(SHAPE), sampled(SHAPE, inside), 40.0), None, 0.0)
    level, sigma = np.full(SHAPE, 100.3, np.float32), np.full(SHAPE, 0.5, np.float32)
    mask = (np.abs(taken - level) > 5.0).view(np.uint8)
    regions = find_regions(mask, Scene(pixels=taken, level=level, sigma=sigma), least_area_px=4)
    return [blob.bores for blob in along_fall(regions, SHAPE, vertical=True)]


@pytest.mark.parametrize(
    ("inside", "bores"),
    [
        (lambda x, y: (x - 44) ** 2 + (y - 44) ** 2 <= 16**2, [0]),
        (ring(44, 44), [1]),
        (ring(44, 44, bore=1.6), [0]),  # a glint
        (both(ring(44, 32), ring(44, 52)), [2]),  # the one covers most of the other's bore
        (both(ring(44, 43), ring(44, 45)), [1]),  # nearly all of it
        (both(ring(44, 20), ring(44, 60)), [1, 1]),
        (both(ring(44, 44, 30, 20), ring(44, 44, 9, 0)), [1]),  # what lies in a bore is no opening
    ],
)
def test_parts_show_one_bore_each(inside, bores: list[int]) -> None:
    assert shown(inside) == bores


@given(apart=st.floats(20.0, 30.0), turn=st.floats(0.0, 2.0 * np.pi), x=st.floats(43.0, 45.0))
def test_two_washers_that_cover_one_another_show_two(apart: float, turn: float, x: float) -> None:
    across, down = 0.5 * apart * np.cos(turn), 0.5 * apart * np.sin(turn)
    assert shown(both(ring(x - across, 44 - down), ring(x + across, 44 + down))) == [2]


def test_a_chain_of_nuts_shows_as_many_as_there_are() -> None:
    """However small each is beside all of them."""
    mask = np.zeros((20, 180), np.uint8)
    for x in range(12, 180, 17):
        cv2.circle(mask, (x, 10), 9, 1, cv2.FILLED)
    for x in range(12, 180, 17):
        cv2.circle(mask, (x, 10), 3, 0, cv2.FILLED)
    contours, tree = cv2.findContours(mask, cv2.RETR_TREE, cv2.CHAIN_APPROX_NONE)
    (outer,) = [k for k in range(len(contours)) if tree[0, k, 3] < 0]
    assert cv2.contourArea(contours[(outer + 1) % 11]) < 0.02 * cv2.contourArea(contours[outer])
    assert bores_of(contours, tree[0].tolist(), outer) == 10


def test_each_contour_has_its_own_bores_only() -> None:
    mask = np.zeros((60, 140), np.uint8)
    for x, holes in ((30, [(20, 30), (40, 30)]), (80, [(80, 30)]), (120, [])):
        cv2.circle(mask, (x, 30), 18, 1, cv2.FILLED)
        for hole in holes:
            cv2.circle(mask, hole, 5, 0, cv2.FILLED)
    contours, tree = cv2.findContours(mask, cv2.RETR_TREE, cv2.CHAIN_APPROX_NONE)
    outer = [k for k in range(len(contours)) if tree[0, k, 3] < 0]
    found = {
        int(contours[k][:, 0, 0].mean()): bores_of(contours, tree[0].tolist(), k) for k in outer
    }
    assert [found[x] for x in sorted(found)] == [2, 1, 0]


@pytest.mark.parametrize(("lesser_px", "bores"), [(8, 2), (6, 2), (4, 1)])
def test_a_much_lesser_opening_is_no_other_parts_bore(lesser_px: int, bores: int) -> None:
    mask = np.zeros((60, 60), np.uint8)
    cv2.circle(mask, (30, 30), 26, 1, cv2.FILLED)
    cv2.circle(mask, (20, 30), 8, 0, cv2.FILLED)
    cv2.circle(mask, (42, 30), lesser_px, 0, cv2.FILLED)
    contours, tree = cv2.findContours(mask, cv2.RETR_TREE, cv2.CHAIN_APPROX_NONE)
    assert bores_of(contours, tree[0].tolist(), 0) == bores
