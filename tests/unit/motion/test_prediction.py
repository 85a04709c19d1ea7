"""Where tracks ought to be in the next frame."""

from dataclasses import fields, replace

import numpy as np
import pytest
from steady_tracks import AXIS, track
from streams import blob

from viscount.motion.detections import detections
from viscount.motion.geometry import Geometry
from viscount.motion.prediction import Prediction, predict
from viscount.motion.track import Track
from viscount.values import Falls, Sighting

VIEW = (480, 160)
GEOMETRY = Geometry(falls=Falls.DOWN, line_px=240.0, view=(0, 0, 160, 480), picture=VIEW)
PLACES = ((40.0, 100.0), (80.0, 200.0), (120.0, 300.0))


def falling(x: float, y: float, speed: float) -> Track:
    one = track(40.0, 900.0)
    one.along = replace(AXIS, place=y - 240.0, speed=speed, cov=0.3, acceleration=9000.0)
    one.across = replace(AXIS, place=x, speed=0.1 * speed, var_place=2.0, var_acceleration=50.0)
    return one


def ahead(geometry: Geometry, t_s: float = 1 / 120) -> tuple[list[Track], Prediction]:
    tracks = [falling(40, 80, 2000.0), falling(90, 150, 3000.0)]
    blobs = tuple(blob(x, y, 12, 20, VIEW) for x, y in PLACES)
    now = detections(Sighting(index=1, t_ns=round(t_s * 1e9), blobs=blobs), geometry, 0)
    return tracks, predict(tracks, now, geometry)


def test_the_prediction_is_what_the_filter_says():
    tracks, found = ahead(GEOMETRY)
    for i, one in enumerate(tracks):
        one.along.advance(round(1e9 / 120) * 1e-9)
        one.across.advance(round(1e9 / 120) * 1e-9)
        along, across = one.along, one.across
        assert (found.place[i], found.side[i]) == pytest.approx((along.place, across.place))
        assert found.speed[i] == pytest.approx(along.speed)
        known = np.broadcast_arrays(found.y, found.x, found.var_y, found.var_x, found.grown)
        wanted = (along.place, across.place, along.var_place, across.var_place)
        for j in range(len(PLACES)):
            assert [table[i, j] for table in known[:4]] == pytest.approx(wanted)


def test_to_expose_all_lines_at_once_is_to_expose_them_in_no_time():
    _, at_once = ahead(GEOMETRY)
    _, rolling = ahead(replace(GEOMETRY, line_time_s=1e-13))
    for field in fields(Prediction):
        here, there = (getattr(one, field.name) for one in (at_once, rolling))
        assert np.broadcast_to(here, there.shape) == pytest.approx(there, rel=1e-6), field.name


def test_a_blob_over_the_place_covers_the_track():
    _, found = ahead(GEOMETRY)
    assert found.covering.tolist() == [[True, False, False], [False] * 3]
    assert found.covered.tolist() == [True, False]
