"""A box of the picture that nobody looks at."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from viscount.covered import GLOW_PX, Covered
from viscount.values import Blob, Frame, Seeing, Sighting

BOX = (10, 4, 16, 9)


def frame(grey: int) -> Frame:
    pixels = np.full((20, 30), 90, np.uint8)
    pixels[4:9, 10:16] = grey
    pixels.setflags(write=False)
    return Frame(index=0, t_ns=0, pixels=pixels)


def blob(box: tuple[int, int, int, int]) -> Blob:
    x0, y0, x1, y1 = box
    return Blob(
        x_px=0.5 * (x0 + x1 - 1),
        y_px=0.5 * (y0 + y1 - 1),
        sigma_x_px=0.1,
        sigma_y_px=0.1,
        area_px=(x1 - x0) * (y1 - y0),
        box=box,
        moments=(1.0, 0.0, 1.0),
        profile=np.full(y1 - y0, float(x1 - x0)),
        cut_by_edge=False,
    )


def sighting(*boxes: tuple[int, int, int, int]) -> Sighting:
    return Sighting(index=0, t_ns=0, blobs=tuple(map(blob, boxes)), state=Seeing.SEEING)


def test_the_box_stays_as_it_was_first() -> None:
    covered = Covered(BOX)
    first = covered.cover(frame(20))
    lit = frame(250)
    seen = covered.cover(lit)
    assert np.array_equal(seen.pixels, first.pixels)
    assert lit.pixels[5, 12] == 250


@given(st.integers(0, 255), st.integers(0, 255))
def test_what_happens_in_the_box_changes_nothing(grey: int, other: int) -> None:
    covered = Covered(BOX)
    covered.cover(frame(20))
    assert np.array_equal(covered.cover(frame(grey)).pixels, covered.cover(frame(other)).pixels)


def test_what_is_beside_the_box_is_left_alone() -> None:
    covered = Covered(BOX)
    covered.cover(frame(20))
    pixels = frame(250).pixels.copy()
    pixels[0:3, 0:3] = 7
    seen = covered.cover(Frame(index=1, t_ns=1, pixels=pixels))
    assert (seen.pixels[0:3, 0:3] == 7).all()


def test_regions_within_the_lamps_glow_are_dropped_and_no_others() -> None:
    inside, glow = (11, 5, 15, 8), (10 - GLOW_PX, 4 - GLOW_PX, 16 + GLOW_PX, 9 + GLOW_PX)
    across, apart = (0, 5, 15, 8), (20, 5, 25, 15)
    left = Covered(BOX).without(sighting(inside, glow, across, apart)).blobs
    assert [one.box for one in left] == [across, apart]
