"""Regions of several parts that come apart on their way."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from steady_tracks import AXIS, model, track
from streams import blob, stream

from viscount.agreement.result import result
from viscount.motion.detections import detections
from viscount.motion.geometry import Geometry
from viscount.motion.opening import opened
from viscount.motion.speed import MotionPrior
from viscount.motion.track import Track
from viscount.motion.tracker import Tracker
from viscount.values import Falls, Sighting, Status

VIEW = (480, 160)
GEOMETRY = Geometry(falls=Falls.DOWN, line_px=240.0, view=(0, 0, 160, 480), picture=VIEW)
PART = 40.0
"""Parts are squares of this side; two or three, side by side or nose to tail, came in as one."""
SHAPE = {"ahead_px": PART / 2, "behind_px": PART / 2, "breadth_px": PART, "area_px": PART**2}
MODEL = replace(model(), sigma_shape_px=0.1, **SHAPE)


def region(x: float, y: float, breadth: float, length: float) -> Track:
    """A region of several parts that was seen six times, the last time a step above `y`."""
    one = track(length, breadth * length, step=0.0)
    one.sights = [
        replace(s, y=y - 240.0 + 5.0 * (k - 6), x=x, var_across=breadth**2 / 12)
        for k, s in enumerate(one.sights)
    ]
    one.along = replace(AXIS, place=y - 240.0, speed=0.0, var_place=0.1)
    one.across = replace(AXIS, place=x, speed=0.0, var_place=0.1)
    one.born, one.full = "entry", one.area
    return one


def into(tracks: Sequence[Track], *places: tuple[float, float], learned: bool = True):
    """What tracks become as parts are seen at these places (x, y)."""
    blobs = tuple(blob(x, y, PART, PART, VIEW) for x, y in places)
    now = detections(Sighting(index=7, t_ns=0, blobs=blobs), GEOMETRY, 0)
    return opened(list(tracks), now, replace(MODEL, learned=learned), GEOMETRY)


@pytest.mark.parametrize(
    ("came", "places"),
    [
        (region(80, 250, 80, 40), [(59, 243), (101, 257)]),
        (region(80, 250, 40, 80), [(78, 228), (82, 272)]),
        (region(80, 250, 40, 120), [(80, 206), (80, 250), (80, 294)]),
        # The one half behind the other.
        (region(80, 250, 60, 46), [(70, 231), (90, 269)]),
    ],
    ids=["side by side", "nose to tail", "three in a row", "half behind"],
)
def test_each_part_was_in_the_region_before(came: Track, places: list[tuple[float, float]]):
    found = into([came], *places)
    assert [(one.across.place, one.along.place + 240.0) for one in found] == places
    for one, (x, y) in zip(found, places, strict=True):
        # As far from the middle as it is now; no sighting of the region is its own.
        for was, seen in zip(came.sights, one.sights, strict=True):
            assert (seen.y - was.y, seen.x - was.x) == pytest.approx((y - 250, x - 80))
            assert seen.var_y > was.var_y
            assert (seen.frame, seen.t_s, seen.alone) == (was.frame, was.t_s, False)
        assert (one.area, one.full, one.born) == (PART * PART, 0.0, "entry")
        assert one.length == pytest.approx(PART, abs=1.0)
        assert not one.whole
    assert all(sight.alone for sight in came.sights)


APART = (59.0, 243.0), (101.0, 257.0)


def test_what_was_one_part_before_is_one_part():
    came = region(80, 250, 80, 40)
    came.sights[0] = replace(came.sights[0], area=PART * PART)
    assert into([came], *APART) == [came]


def test_what_another_track_leads_to_is_that_ones():
    came, other = region(80, 250, 80, 40), region(101, 257, 40, 40)
    assert into([came, other], *APART) == [came, other]


def test_a_part_and_a_piece_are_one_part():
    """They cover what it did; but the lesser is no part."""
    came = region(80, 250, 80, 40)
    blobs = (blob(69, 250, 58, 40, VIEW), blob(110, 250, 18, 40, VIEW))
    now = detections(Sighting(index=7, t_ns=0, blobs=blobs), GEOMETRY, 0)
    assert opened([came], now, MODEL, GEOMETRY) == [came]


def test_parts_that_were_not_in_it_do_not_come_out_of_it():
    came = region(80, 250, 80, 40)
    assert into([came], (30.0, 250.0), (130.0, 250.0)) == [came]
    # Two where three were: the third is somewhere.
    three = region(80, 250, 40, 120)
    assert into([three], (80.0, 228.0), (80.0, 272.0)) == [three]


def test_what_a_border_cuts_is_not_taken_apart():
    came = region(80, 450, 80, 40)
    assert into([came], (59.0, 453.0), (101.0, 467.0)) == [came]


def test_no_size_is_large_before_parts_are_known():
    came = region(80, 250, 80, 40)
    assert into([came], *APART, learned=False) == [came]


@pytest.mark.parametrize("broken_px", [(200, 230), (200, 260), (200, 400), (100, 480)])
def test_a_large_thing_that_a_glint_breaks_in_two_is_no_clean_count(broken_px: tuple[int, int]):
    """What is no part of the pour's is more than twice as large, and in two pieces for a while."""
    view = (480, 120)
    clip = {"lip": -30, "fps": 120, "view": view, "start_s": -0.2, "end_s": 1.6}
    made = stream(0.1 + 0.06 * np.arange(12), 1500.0, size=(16, 20), **clip)
    thing = stream([0.9], 1500.0, size=(16, 48), **clip)
    tracker = Tracker(
        Geometry(falls=Falls.DOWN, line_px=made.line, view=(0, 0, 120, 480), picture=view),
        MotionPrior(acceleration_px_s2=0.0),
    )
    found = []
    for singles, large in zip(made.sightings, thing.sightings, strict=True):
        seen = []
        for one in large.blobs:
            whole = not broken_px[0] <= one.y_px < broken_px[1] or one.cut_by_edge
            ends = [one.y_px - 13, one.y_px + 13]
            seen += [one] if whole else [blob(one.x_px, y, 16, 22, view) for y in ends]
        found += tracker.feed(replace(singles, blobs=(*singles.blobs, *seen)))
    found += tracker.finish()
    assert result(found, tracker.notices, 0).status is Status.DOUBTFUL
