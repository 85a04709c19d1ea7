"""The brightness of lines, with and without parts in front of them."""

import numpy as np
import pytest
from pictures import NOISE, box, empty, pixels, with_part

from viscount.vision.profiles import profiles, tellers

SHAPE = (100, 120)
FRAMES = 24


def test_lines_are_as_bright_as_they_are() -> None:
    rng = np.random.default_rng(1)
    light = 1 + 0.1 * np.sin(np.arange(FRAMES)[:, None] + np.arange(100) / 20)
    made = profiles([pixels(empty(SHAPE) * row[:, None], rng) for row in light], 0, 50)
    assert made is not None
    assert made.lines.tolist() == list(range(0, 100, 2))
    truth = light[:, made.lines] / np.median(light[:, made.lines], axis=0)
    off = made.ratios - truth
    assert np.abs(off).max() < 6 * made.noise
    assert made.noise == pytest.approx(NOISE / 100 / np.sqrt(24), rel=0.15)
    assert made.known.all()
    assert np.abs(made.stretches - truth).max() < 6 * 3**0.5 * made.noise


@pytest.mark.parametrize("axis", [0, 1])
def test_lines_with_parts_in_front_are_not_known(axis: int) -> None:
    rng = np.random.default_rng(1)
    shape = SHAPE if axis == 0 else SHAPE[::-1]
    pictures = []
    for k in range(FRAMES):
        wide = (50.0, 12.0) if axis == 0 else (12.0, 50.0)
        at = (60.0, 10.0 + 3 * k) if axis == 0 else (10.0 + 3 * k, 60.0)
        scene = with_part(empty(shape), box(shape, *at, width=wide[0], length=wide[1]), 40)
        pictures.append(pixels(scene, rng))
    made = profiles(pictures, axis, 100)
    assert made is not None
    for k in range(FRAMES):
        middle = int(np.flatnonzero(made.lines == 10 + 3 * k)[0])
        assert not made.known[k, middle - 4 : middle + 5].any()
        assert made.known[k, : middle - 8].all()
        assert made.known[k, middle + 9 :].all()


def test_lines_that_mostly_have_parts_in_front_are_left_out() -> None:
    rng = np.random.default_rng(1)
    scenes = [with_part(empty(SHAPE), box(SHAPE, x, 40, 40, 20), 40) for x in (30, 90)]
    scenes.append(empty(SHAPE))
    pictures = [pixels(scenes[k % 3], rng) for k in range(FRAMES)]
    made = profiles(pictures, 0, 100)
    assert made is not None
    assert not set(range(31, 49)) & set(made.lines.tolist())
    assert len(made.lines) >= 78


def test_where_too_little_tells_there_are_none() -> None:
    rng = np.random.default_rng(1)
    for scene in (empty(SHAPE, 4.0), empty(SHAPE, 254.0), empty((6, 120))):
        assert profiles([pixels(scene, rng) for _ in range(FRAMES)], 0, 100) is None


def test_tellers_are_named_line_by_line() -> None:
    telling = np.zeros((3, 12), bool)
    telling[0, :5] = True
    telling[1, 3:10] = True
    telling[2] = True
    lines, picked = tellers(telling)
    assert lines.tolist() == [1, 2]
    assert picked.tolist() == [[3, 4, 5, 6, 7, 8, 9, 3, 4, 5, 6, 7], list(range(12))]
