"""Which frames show half of the picture before them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from viscount.checking.tears import Tears
from viscount.values import Blob, Frame, Sighting

SEAM = 150


def blob(y: int, x: int) -> Blob:
    return Blob(
        x_px=x + 4.5,
        y_px=y + 9.5,
        sigma_x_px=0.1,
        sigma_y_px=0.1,
        area_px=200.0,
        box=(x, y, x + 10, y + 20),
        moments=(1.0, 0.0, 1.0),
        profile=np.full(20, 10, np.uint16),
        cut_by_edge=False,
    )


def found(
    courses: Sequence[Sequence[int]],
    *,
    torn: tuple[int, ...] = (),
    damaged: tuple[int, ...] = (),
    turned: bool = False,
) -> tuple[int, ...]:
    """Show a part on each course, its places frame by frame, each in a lane of its own.

    In torn frames the far half is that of the frame before.
    """
    tears, rng = Tears(), np.random.default_rng(1)
    before, old = np.zeros((300, 60), np.uint8), list[tuple[int, int]]()
    for index, places in enumerate(zip(*courses, strict=True)):
        lanes = [(y, 5 + 15 * lane) for lane, y in enumerate(places)]
        picture = 150 + rng.normal(0, 2.0, (300, 60))
        for y, x in lanes:
            picture[y : y + 20, x : x + 10] -= 110
        pixels = picture.astype(np.uint8)
        if index in torn:
            lanes = [p for p in lanes if p[0] < SEAM] + [p for p in old if p[0] >= SEAM]
            pixels = pixels.copy()
            pixels[SEAM:] = before[SEAM:]
        before, old = pixels, lanes
        shown = np.ascontiguousarray(pixels.T) if turned else pixels
        frame = Frame(index=index, t_ns=index, pixels=shown, damaged=index in damaged)
        blobs = tuple(turn(blob(y, x)) if turned else blob(y, x) for y, x in lanes)
        tears.add(frame, Sighting(index=index, t_ns=index, blobs=blobs))
    return tuple(tears.found["frame"].astype(int).tolist())


def turn(one: Blob) -> Blob:
    """Swap rows and columns."""
    x0, y0, x1, y1 = one.box
    return replace(one, x_px=one.y_px, y_px=one.x_px, box=(y0, x0, y1, x1))


HIGH = [0, 20, 40, 60, 80, 100, 120]
LOW = [150, 170, 190, 210, 230, 250, 270]


def test_a_fall_is_not_torn():
    assert found([HIGH, LOW]) == ()


@pytest.mark.parametrize("turned", [False, True])
def test_a_torn_frame_is_found(turned: bool):
    assert found([HIGH, LOW], torn=(3,), turned=turned) == (3,)


def test_without_a_part_in_each_half_nobody_can_tell():
    assert found([HIGH], torn=(3,)) == ()
    assert found([LOW], torn=(3,)) == ()


def test_what_repeats_as_a_whole_is_not_torn():
    assert found([[0, 20, 40, 40, 60, 80, 100], [150, 170, 190, 190, 210, 230, 250]]) == ()


def test_what_stands_where_no_line_parts_it_from_the_others_is_not_torn():
    stands = [70, 90, 110, 110, 130, 150, 170]
    assert found([HIGH, stands, LOW]) == ()


def test_what_turns_round_is_not_torn():
    assert found([HIGH, [230, 210, 200, 200, 210, 230, 250]]) == ()


@pytest.mark.parametrize(
    "low",
    [
        [200] * 7,
        [200, 200, 200, 200, 220, 240, 260],
        [150, 170, 190, 190, 190, 190, 190],
    ],
)
def test_what_lies_still_comes_to_rest_or_sets_out_is_not_torn(low: list[int]):
    assert found([HIGH, low]) == ()


def test_damage_is_not_a_tear():
    assert found([HIGH, LOW], torn=(3,), damaged=(3,)) == ()
