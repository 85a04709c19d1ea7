"""How far the middle of a part may move where it turns."""

import math
from dataclasses import replace

import pytest
from steady_tracks import AXIS, model, track
from streams import blob

from viscount.motion.detections import detections
from viscount.motion.geometry import Geometry
from viscount.motion.matching import PART_SHARE, STEADY_SHARE, TURNED_SHARE, turned
from viscount.motion.prediction import predict
from viscount.motion.speed import TIGHT_PX
from viscount.values import Falls, Sighting

VIEW = (480, 160)
GEOMETRY = Geometry(falls=Falls.DOWN, line_px=240.0, view=(0, 0, 160, 480), picture=VIEW)
LENGTH, BREADTH = 60.0, 24.0
FULL = LENGTH * BREADTH
SHAPE = {"ahead_px": LENGTH / 2, "behind_px": LENGTH / 2, "breadth_px": BREADTH, "area_px": FULL}
MODEL = replace(model(), sigma_shape_px=0.1, **SHAPE)


def moves(
    height: float, full: float = FULL, y: float = 300.0, **known: float
) -> tuple[float, float]:
    """By how much along and across, px, where a region of this height was as large as `full`."""
    one = track(LENGTH, FULL)
    one.full = full
    one.along = one.across = replace(AXIS, place=80.0)
    blobs = (blob(80, y, BREADTH, height, VIEW),)
    now = detections(Sighting(index=0, t_ns=0, blobs=blobs), GEOMETRY, 0)
    along, across = turned(predict([one], now, GEOMETRY), now, replace(MODEL, **known))
    return math.sqrt(along.item()), math.sqrt(across.item())


@pytest.mark.parametrize("share", [0.15, 0.4, 0.75])
def test_by_half_of_what_it_has_lost_of_itself(share: float):
    """A bar that stood along the fall and is foreshortened by this share about one of its ends
    has its middle half as much of its length from where it was; a little is let pass as noise."""
    along, across = moves((1.0 - share) * LENGTH)
    assert along == pytest.approx(0.5 * (share - STEADY_SHARE) * LENGTH)
    assert across == pytest.approx(0.5 * (share - STEADY_SHARE) * BREADTH)


def test_what_keeps_its_size_does_not_turn():
    assert moves(LENGTH) == moves(0.95 * LENGTH) == moves(1.5 * LENGTH) == (0.0, 0.0)


def test_what_is_left_of_it_is_no_speck():
    share = STEADY_SHARE + TURNED_SHARE
    assert moves(LENGTH * (1.0 - share + 0.02)) > (0.0, 0.0)
    assert moves(LENGTH * (1.0 - share - 0.02)) == (0.0, 0.0)


def test_two_that_came_apart_have_not_turned():
    assert moves(LENGTH, 2.0 * FULL) == (0.0, 0.0)


def test_a_piece_of_something_may_vanish():
    assert moves(0.2 * LENGTH, 1.01 * PART_SHARE * FULL) > (0.0, 0.0)
    assert moves(0.2 * LENGTH, 0.99 * PART_SHARE * FULL) == (0.0, 0.0)


def test_what_a_border_cuts_has_lost_nothing():
    assert moves(LENGTH, y=470.0) == (0.0, 0.0)


def test_nothing_is_known_before_parts_are():
    assert moves(0.5 * LENGTH, learned=False) == (0.0, 0.0)
    # Nor where nobody knows yet whether regions fall to pieces, or where they do.
    for scatter_px in (0.0, TIGHT_PX):
        assert moves(0.5 * LENGTH, sigma_shape_px=scatter_px) == (0.0, 0.0)
    assert moves(0.5 * LENGTH, 0.0) == (0.0, 0.0)
