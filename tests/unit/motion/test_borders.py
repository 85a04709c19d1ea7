"""What it costs that a part is lost."""

from dataclasses import replace

import pytest
from steady_tracks import AXIS, model, track
from streams import blob

from viscount.motion.borders import EXIT, HIDDEN, LOST, SPECK, SPECK_LOST, deaths
from viscount.motion.detections import detections
from viscount.motion.geometry import Geometry
from viscount.motion.prediction import predict
from viscount.motion.speed import TIGHT_PX
from viscount.values import Falls, Sighting

VIEW = (480, 160)
GEOMETRY = Geometry(falls=Falls.DOWN, line_px=240.0, view=(0, 0, 160, 480), picture=VIEW)
MODEL = replace(model(), area_px=1400.0, sigma_shape_px=0.1)


def cost(area: float, y: float = 0.0, *, hides: bool = False, **known: float) -> float:
    """What it costs to lose a region in the middle of the view, or at `y`, that hardly moves."""
    one = track(20.0, area)
    one.along = replace(AXIS, place=y, speed=0.0, var_place=0.1)
    one.across = replace(AXIS, place=80.0, speed=0.0, var_place=0.1)
    where = 240.0 + y if hides else 100.0
    blobs = (blob(80, where, 20, 20, VIEW),)
    now = detections(Sighting(index=0, t_ns=0, blobs=blobs), GEOMETRY, 0)
    costs, _ = deaths(GEOMETRY, replace(MODEL, **known), predict([one], now, GEOMETRY))
    return costs.item()


def test_a_part_is_lost_at_its_price():
    assert cost(1400.0) == LOST
    assert cost(1400.0, hides=True) == HIDDEN
    assert cost(1400.0, 239.0) == EXIT


@pytest.mark.parametrize("area", [7.0, 0.99 * SPECK * 1400.0])
def test_dust_comes_and_goes(area: float):
    assert cost(area) == SPECK_LOST < LOST
    assert cost(area, 239.0) == EXIT


def test_what_dust_is_shows_only_beside_parts():
    assert cost(1.01 * SPECK * 1400.0) == LOST
    assert cost(7.0, learned=False) == LOST
    # Where parts fall to pieces, it may be one of those.
    assert cost(7.0, sigma_shape_px=TIGHT_PX) == cost(7.0, sigma_shape_px=0.0) == LOST
