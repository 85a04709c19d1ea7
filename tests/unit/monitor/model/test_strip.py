"""The growing strip: what passed the line at a time is in the column of that time."""

import numpy as np
import pytest
from watched import ACROSS, FPS, LENGTH, SPEED, picture, scenery

from viscount.monitor.model.strip import Strip
from viscount.values import Falls

CROSSINGS = [0.4, 0.5, 0.537]


def filled(falls: Falls = Falls.DOWN, frames: int = 100, **more: int) -> Strip:
    strip = Strip(scenery(falls), **more)
    for k in range(frames):
        strip.add(k / FPS, picture(k / FPS, CROSSINGS, falls))
    return strip


@pytest.mark.parametrize("falls", Falls)
def test_each_part_stands_where_it_crossed_as_long_as_it_took(falls: Falls) -> None:
    pixels, seen = filled(falls).picture(0.3, 0.6, 900, SPEED)
    at = 0.3 + (np.arange(900) + 0.5) * 0.3 / 900
    true = np.min([np.abs(at - t) for t in CROSSINGS], axis=0) <= LENGTH / 2 / SPEED
    dark = pixels[ACROSS // 2] < 120
    assert seen.all()
    # The edge of a bar is a whole px off at most, 0.7 ms or two columns here.
    assert (dark != true).sum() <= 2 * 2 * 2 * len(CROSSINGS)
    assert not (pixels[5] < 120).any()


def test_columns_without_a_frame_near_are_not_seen() -> None:
    strip = Strip(scenery())
    for k in [*range(10), *range(30, 40)]:
        strip.add(k / FPS, picture(k / FPS, []))
    pixels, seen = strip.picture(0.0, 40 / FPS, 400, SPEED)
    assert pixels.shape == (ACROSS, 400)
    assert seen[5:90].all()
    assert not seen[130:280].any()
    assert seen[310:390].all()


def test_the_oldest_frames_give_way_and_memory_stays() -> None:
    strip = filled(frames=300, limit_bytes=200_000)
    held = strip.nbytes
    assert held < 230_000
    for k in range(300, 2000):
        strip.add(k / FPS, picture(k / FPS, CROSSINGS))
    assert strip.nbytes == held
    assert not strip.picture(0.0, 0.5, 50, SPEED)[1].any()
    assert strip.picture(1990 / FPS, 1999 / FPS, 50, SPEED)[1].all()


def test_a_frame_that_came_before_is_left_out() -> None:
    strip = filled(frames=10)
    strip.add(0.01, picture(0.01, []))
    assert len(strip) == 10
    strip.clear()
    assert len(strip) == 0
    assert not strip.picture(0.0, 1.0, 10, 0.0)[1].any()


def test_a_shrunk_picture_lends_what_it_has() -> None:
    strip = Strip(scenery())
    for k in range(60):
        strip.add(k / FPS, picture(k / FPS, CROSSINGS)[::2, ::2], shrunk=2)
    pixels, _ = strip.picture(0.35, 0.45, 100, SPEED)
    dark = np.flatnonzero(pixels[ACROSS // 2] < 120)
    assert dark.mean() == pytest.approx(50, abs=3)


def test_the_line_may_lie_outside_of_the_picture() -> None:
    from dataclasses import replace

    strip = Strip(replace(scenery(), line_px=500.0))
    strip.add(0.0, picture(0.0, []))
    assert strip.picture(0.0, 0.1, 10, SPEED)[0].shape == (ACROSS, 10)
