"""Blobs as arrays along and across the fall, whichever way that runs."""

import pytest
from streams import blob

from viscount.motion.detections import detections
from viscount.motion.geometry import Geometry
from viscount.values import Falls, Sighting

VIEW = (480, 160)
BLOBS = (blob(70, 460, 30, 60, VIEW), blob(60, 100, 20, 40, VIEW), blob(155, 300, 30, 24, VIEW))


@pytest.mark.parametrize(
    ("falls", "line", "y", "x", "length", "cut"),
    [
        # The first one is cut by the lower border, the last one by that on the right.
        (Falls.DOWN, 240.0, [-140, 60, 214.75], [60, 149.75, 70], [41, 25, 50], "  h"),
        (Falls.UP, 240.0, [-214.75, -60, 140], [70, 149.75, 60], [50, 25, 41], "t  "),
        (Falls.RIGHT, 80.0, [-20, -10, 69.75], [100, 454.75, 300], [21, 31, 20], "  h"),
        (Falls.LEFT, 80.0, [-69.75, 10, 20], [300, 454.75, 100], [20, 31, 21], "t  "),
    ],
)
def test_blobs_are_ordered_and_turned_into_the_fall(
    falls: Falls, line: float, y: list[float], x: list[float], length: list[float], cut: str
):
    geometry = Geometry(falls=falls, line_px=line, view=(0, 0, 160, 480), picture=VIEW)
    now = detections(Sighting(index=0, t_ns=0, blobs=BLOBS), geometry, 0)
    assert now.y == pytest.approx(y)
    assert now.x == pytest.approx(x)
    assert now.length == pytest.approx(length)
    assert now.cut_head.tolist() == [sign == "h" for sign in cut]
    assert now.cut_tail.tolist() == [sign == "t" for sign in cut]


def test_a_frame_without_blobs_has_none():
    geometry = Geometry(falls=Falls.DOWN, line_px=0.0, view=(0, 0, 160, 480), picture=VIEW)
    now = detections(Sighting(index=0, t_ns=0, blobs=()), geometry, 0)
    assert len(now) == 0
    assert now.rows == []
