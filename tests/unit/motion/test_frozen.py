"""Pictures that are shown twice."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from viscount.motion.frozen import LONGEST, Frozen
from viscount.values import Blob, Sighting


def sighting(places: Sequence[tuple[float, float]], area: float = 100.0) -> Sighting:
    blobs = tuple(blob(x, y, area) for x, y in places)
    return Sighting(index=0, t_ns=0, blobs=blobs)


def blob(x: float, y: float, area: float) -> Blob:
    return Blob(
        x_px=x,
        y_px=y,
        sigma_x_px=0.1,
        sigma_y_px=0.1,
        area_px=area,
        box=(0, 0, 10, 10),
        moments=(8.0, 0.0, 8.0),
        profile=np.full(10, 10, dtype=np.uint16),
        cut_by_edge=False,
    )


def frozen(pictures: Sequence[Sequence[tuple[float, float]]]) -> list[bool]:
    watch = Frozen()
    return [watch.is_frozen(sighting(places)) for places in pictures]


def test_all_that_moved_stands_still() -> None:
    at = [[(5.0, y), (5.1, y + 80)] for y in (10.0, 30.0, 50.0)]
    again = [(5.05, 50.1), (5.1, 129.9)]
    assert frozen([*at, again, [(5.0, 90.0), (5.0, 170.0)]]) == [False] * 3 + [True, False]


def test_one_that_goes_on_is_enough_for_a_new_picture() -> None:
    pictures = [[(5.0, 10.0), (9.0, 40.0)], [(5.0, 30.0), (9.0, 60.0)], [(5.0, 30.0), (9.0, 80.0)]]
    assert frozen(pictures) == [False] * 3


def test_what_never_moved_is_no_frozen_picture() -> None:
    assert frozen([[(5.0, 10.0)]] * 6) == [False] * 6


def test_a_part_that_has_landed_is_seen_again() -> None:
    pictures = [[(5.0, y)] for y in (10.0, 40.0, 70.0)] + [[(5.0, 70.0)]] * (LONGEST + 3)
    assert frozen(pictures) == [False] * 3 + [True] * LONGEST + [False] * 3


def test_a_stream_that_shows_about_the_same_picture_each_time_moves() -> None:
    """Parts that move by as much as they lie apart."""
    pictures = [[(5.0, 10.0 + s), (5.0, 60.0 + s)] for s in (0.0, 1.2, 1.3, 0.2, 0.3)]
    assert frozen(pictures) == [False] * 5


def test_a_stream_that_shows_the_same_picture_each_time_moves() -> None:
    """Each part sits where the one before it sat; only the front shows."""
    places = [(5.0, 10.0), (5.0, 60.0), (5.0, 110.0)]
    pictures = [places[:1], places[:2], places, places, places]
    assert frozen([[], *pictures]) == [False] * 6


@pytest.mark.parametrize("noise", [True, False])
def test_specks_come_and_go(noise: bool) -> None:
    watch = Frozen()
    for y in (10.0, 40.0, 70.0):
        assert not watch.is_frozen(sighting([(5.0, y)]))
    speck = (blob(90.0, 3.0, 6.0),) if noise else ()
    again = Sighting(index=3, t_ns=0, blobs=(blob(5.0, 70.0, 100.0), *speck))
    assert watch.is_frozen(again)


def test_what_is_hard_to_place_may_seem_to_move_a_little() -> None:
    """An encoder changes a faint picture by more than a clear one."""
    at = [[blob(5.0, y, 50.0)] for y in (10.0, 30.0, 50.0)]
    again = blob(5.1, 50.5, 50.0)
    for sigma, still in ((0.15, True), (0.05, False)):
        watch = Frozen()
        shown = [*at, [replace(again, sigma_y_px=sigma, sigma_x_px=sigma)]]
        seen = [Sighting(index=0, t_ns=0, blobs=tuple(blobs)) for blobs in shown]
        assert [watch.is_frozen(one) for one in seen] == [False] * 3 + [still]
