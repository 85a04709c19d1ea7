"""Which frames repeat the one before, in the midst of motion."""

from collections.abc import Iterable

import numpy as np

from viscount.checking.repeats import Repeats
from viscount.values import Blob, Frame, Sighting


def blob(y: int) -> Blob:
    return Blob(
        x_px=20.0,
        y_px=y + 10.0,
        sigma_x_px=0.1,
        sigma_y_px=0.1,
        area_px=200.0,
        box=(15, y, 25, y + 20),
        moments=(1.0, 0.0, 1.0),
        profile=np.full(20, 10, np.uint16),
        cut_by_edge=False,
    )


def found(places: Iterable[int | None], *, noise: float = 2.0) -> tuple[int, ...]:
    """Show a part at these places, frame by frame; a place twice over repeats the picture."""
    repeats = Repeats()
    rng = np.random.default_rng(1)
    before: tuple[int | None, np.ndarray] = (None, np.zeros(0))
    for index, y in enumerate(places):
        if y is not None and y == before[0]:
            pixels = before[1]
        else:
            picture = 150 + rng.normal(0, noise, (300, 40))
            if y is not None:
                picture[y : y + 20, 15:25] -= 110
            pixels = picture.astype(np.uint8)
        before = (y, pixels)
        frame = Frame(index=index, t_ns=index, pixels=pixels)
        blobs = () if y is None else (blob(y),)
        repeats.add(frame, Sighting(index=index, t_ns=index, blobs=blobs))
    return repeats.found()


def test_a_fall_repeats_nothing():
    assert found([None, *range(0, 270, 30), None]) == ()


def test_repeats_are_found():
    assert found([None, 0, 30, 60, 60, 90, 120, 120, 120, 150, 180, None]) == (4, 7, 8)


def test_every_second_picture():
    places = [y for y in range(0, 270, 30) for _ in range(2)]
    assert found(places[:-1]) == tuple(range(1, len(places) - 1, 2))


def test_what_lies_still_is_no_repeat():
    assert found([0, 30, 60, *[90] * 12, 120, 150]) == ()


def test_frames_hidden_from_detectors_count_while_parts_are_in_view():
    repeats = Repeats()
    rng = np.random.default_rng(2)
    for index, y in enumerate((0, 40, 80, 120)):
        picture = rng.normal(150, 2, (300, 40))
        picture[y : y + 20, 15:25] = 40
        frame = Frame(index=2 * index, t_ns=index, pixels=picture.astype(np.uint8))
        repeats.add(frame, Sighting(index=2 * index, t_ns=index, blobs=(blob(y),)))
        repeats.skipped(Frame(index=2 * index + 1, t_ns=index, pixels=frame.pixels))
    assert repeats.found() == (1, 3, 5)
