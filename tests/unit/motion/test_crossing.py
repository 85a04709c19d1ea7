"""Which side of the line, and when: crossings of single tracks."""

from dataclasses import replace

import numpy as np
import pytest

from viscount.motion.crossing import CARRIED_NOISE_PX, Crossing, crossed
from viscount.motion.sight import Sight
from viscount.motion.speed import SpeedModel
from viscount.motion.track import Axis, Track
from viscount.values import Basis, Direction

MODEL = SpeedModel(
    t_s=np.array([0.0]),
    speed=np.array([600.0]),
    spread=0.05,
    acceleration=0.0,
    sigma_acceleration=1.0,
)


def track(places: list[float], *, born: str = "first frame", ended: str = "last frame", dt=0.01):
    speed = (places[-1] - places[0]) / (dt * max(len(places) - 1, 1))
    axis = Axis(
        place=places[-1],
        speed=speed,
        var_place=0.1,
        cov=0.0,
        var_speed=1.0,
        acceleration=0.0,
        var_acceleration=1.0,
    )
    made = Track(along=axis, across=axis, t_s=dt * (len(places) - 1), born=born, ended=ended)
    for index, y in enumerate(places):
        made.show(
            Sight(
                frame=index,
                blob=0,
                t_s=dt * index,
                y=y,
                x=50.0,
                var_y=0.04,
                var_x=0.04,
                length=12.0,
                behind=6.0,
                area=100.0,
                whole=True,
                alone=True,
            )
        )
    return made


def crossings(one: Track, model: SpeedModel) -> list[Crossing]:
    (found,) = crossed([one], model)
    return found.crossings


def directions(sides: str, **more: str) -> list[Direction]:
    """Crossings of a track that is 4 px above (A) or below (B) the line, frame by frame."""
    return [
        c.direction
        for c in crossings(track([-4.0 if s == "A" else 4.0 for s in sides], **more), MODEL)
    ]


# What people who count with a line report: jitter beside it counts as it should not.
def test_a_lone_sighting_on_the_other_side_is_jitter():
    assert directions("AAABAAA") == []


def test_to_and_fro_on_the_line_counts_once():
    assert directions("AABABBB") == [Direction.WITH]


def test_a_track_never_seen_above_does_not_count():
    assert directions("BBBBBB") == []


def test_a_track_that_goes_back_up_counts_against():
    assert directions("BBBAAA") == [Direction.AGAINST]


def test_down_and_back_up_counts_both_ways():
    assert directions("AAABBBAAA") == [Direction.WITH, Direction.AGAINST]


def test_seen_below_only_but_just_entered_counts_by_extrapolation():
    (one,) = crossings(track([5.0, 11.0, 17.0], born="entry", dt=0.01), MODEL)
    assert one.direction is Direction.WITH
    assert one.basis is Basis.EXTRAPOLATED
    assert one.t_s == pytest.approx(-5.0 / 600.0, abs=1e-6)


def test_seen_above_only_and_then_gone_through_the_border_counts():
    (one,) = crossings(track([-17.0, -11.0, -5.0], ended="exit", dt=0.01), MODEL)
    assert one.direction is Direction.WITH
    assert one.t_s == pytest.approx(0.02 + 5.0 / 600.0, abs=1e-6)


def test_seen_above_only_and_then_lost_does_not_count():
    assert crossings(track([-17.0, -11.0, -5.0], ended="midway"), MODEL) == []


def test_the_time_is_between_sightings_when_no_frame_shows_the_part_on_the_line():
    (one,) = crossings(track([-9.0, -3.0, 3.0, 9.0]), MODEL)
    assert one.basis is Basis.INTERPOLATED
    assert one.t_s == pytest.approx(0.015, abs=1e-9)
    assert one.speed == pytest.approx(600.0, rel=1e-6)


def test_a_bounce_is_timed_by_the_sightings_next_to_each_crossing():
    down = [-30.0, -20.0, -10.0, 0.5, 10.0, 20.0, 30.0]
    places = down + down[-2::-1]
    with_fall, against = crossings(track(places), MODEL)
    assert with_fall.t_s == pytest.approx(0.03, abs=1e-3)
    assert against.t_s == pytest.approx(0.09, abs=1e-3)
    assert against.direction is Direction.AGAINST


@pytest.mark.parametrize(
    ("born", "ended", "crosses"),
    [("entry", "side", 1), ("entry", "hidden", 1), ("beside", "hidden", 1), ("beside", "side", 0)],
)
def test_what_leaves_sideways_before_the_line_must_have_come_in(
    born: str, ended: str, crosses: int
):
    """6 px a frame, and 2 px above the line when it is last seen."""
    found = crossings(
        track([-20.0, -14.0, -8.0, -2.0], born=born, ended=ended), replace(MODEL, interval_s=0.01)
    )
    assert len(found) == crosses


def test_what_a_codec_carries_is_how_centres_scatter_not_how_unsure_the_frames_are():
    """Sightings 0.2 px unsure each: as they scatter, or as the whole picture shakes."""
    seen = track([-15.0, -9.0, -3.0, 3.0, 9.0, 15.0])
    alone, carried = {}, {}
    for shape in (0.0, 0.2):
        model = replace(MODEL, sigma_shape_px=shape)
        for found, common in ((alone, 0.0), (carried, 0.8)):
            ((crossing,),) = (one.crossings for one in crossed([seen], model, common))
            found[shape] = crossing.sigma_s * crossing.speed
    assert alone[0.0] == pytest.approx(alone[0.2])
    added = {shape: np.sqrt(carried[shape] ** 2 - alone[shape] ** 2) for shape in alone}
    assert added[0.2] == pytest.approx(np.sqrt(0.8) * 0.2, rel=1e-6)
    assert added[0.0] == pytest.approx(np.sqrt(0.8) * CARRIED_NOISE_PX, rel=1e-6)


def test_what_the_border_cuts_makes_no_crossing_less_sure():
    seen = track([-15.0, -9.0, -3.0, 3.0, 9.0, 15.0])
    ends = track([-15.0, -9.0, -3.0, 3.0, 9.0, 15.0])
    for k in (0, 1, 4, 5):
        ends.sights[k] = replace(ends.sights[k], whole=False, var_y=4.0)
    model = replace(MODEL, sigma_shape_px=0.02)
    (whole,), (cut,) = (crossed([one], model, 0.8)[0].crossings for one in (seen, ends))
    assert cut.sigma_s < 2.0 * whole.sigma_s
