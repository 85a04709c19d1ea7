"""Which tracks teach how parts move."""

from dataclasses import replace

import numpy as np
import pytest
from steady_tracks import model, track

from viscount.motion.geometry import Geometry
from viscount.motion.learning import LATEST, first_models, good, latest_good, refined_model
from viscount.motion.linking import FIRST_SHAPE_PX
from viscount.motion.speed import MotionPrior
from viscount.motion.track import Track
from viscount.values import Falls

STEP = 25.0
MODEL = replace(model(STEP * 120), area_px=1400.0)


def passing(*places: float) -> Track:
    """A part seen at these places along the fall, frame by frame, as fast as the others."""
    one = track(64.0, 1400.0, sights=len(places))
    one.sights = [replace(sight, y=y) for sight, y in zip(one.sights, places, strict=True)]
    one.along = replace(one.along, speed=STEP * 120)
    one.born = "entry"
    return one


@pytest.mark.parametrize(
    ("places", "teaches"),
    [
        ((-50.0, -25.0, 0.0, 25.0, 50.0), True),
        ((-50.0, -25.0, -25.0, -25.0, 0.0, 25.0), False),  # it stuck for a while
        ((-50.0, -25.0, 0.0, -20.0, -38.0), False),  # it bounced
        ((-50.0, -26.0, 0.0, 2.0, 50.0), True),  # one place is off
    ],
)
def test_what_stopped_on_its_way_teaches_nothing(places: tuple[float, ...], teaches: bool):
    one = passing(*places)
    assert good([one], MODEL) == ([one] if teaches else [])


@pytest.mark.parametrize("stuck", [(), (3,), (1, 37, 38)])
def test_the_latest_that_teach_are_the_last_of_all_that_do(stuck: tuple[int, ...]):
    """However many of the latest do not."""
    falls, sticks = (-50.0, -25.0, 0.0, 25.0), (-50.0, -25.0, -25.0, -25.0, 0.0)
    tracks = [passing(*(sticks if k in stuck else falls)) for k in range(40)]
    assert len(good(tracks, MODEL)) == 40 - len(stuck)
    assert latest_good(tracks, MODEL) == good(tracks, MODEL)[-LATEST:]
    assert len(latest_good(tracks, MODEL)) == LATEST
    assert len(latest_good(tracks[:5], MODEL)) == len(good(tracks[:5], MODEL)) < LATEST


def test_three_parts_that_all_differ_are_learned_from_all_the_same():
    """The median of three is no neighbour of the others: none would be left."""
    px_s = (313.0, 896.0, 536.0)
    tracks = []
    for k, speed in enumerate(px_s):
        one = passing(*(speed / 120 * (n - 3) for n in range(7)))
        one.along = replace(one.along, speed=speed)
        one.sights = [replace(sight, t_s=sight.t_s + 0.5 * k) for sight in one.sights]
        tracks.append(one)
    slow = replace(MODEL, speed=np.array([600.0]))
    learned = refined_model(tracks, slow, MotionPrior(acceleration_px_s2=0.0))
    assert sorted(learned.speed) == pytest.approx([313.0, 536.0, 536.0], rel=0.01)


def seen_twice(number: int, wrong: range) -> list[Track]:
    """Parts that follow one another closely; of some the place of the one ahead was taken."""
    tracks = []
    for k in range(number):
        one = passing(-STEP / 2, (0.33 if k in wrong else 0.5) * STEP)
        one.sights = [replace(sight, t_s=sight.t_s + 0.006 * k) for sight in one.sights]
        tracks.append(one)
    return tracks


def test_parts_seen_twice_tell_their_speed_though_a_frame_full_of_them_is_linked_wrongly():
    """A median of seven would believe five neighbours."""
    loose = replace(MODEL, speed=np.array([0.9 * STEP * 120]), spread=0.28)
    known = MotionPrior(speed_px_s=STEP * 120)
    tracks = seen_twice(19, range(9, 14))
    assert refined_model(tracks, loose, MotionPrior()) is loose
    learned = refined_model(tracks, loose, known)
    assert learned.speed == pytest.approx(STEP * 120, rel=0.001)
    assert learned.spread < 0.02


def test_a_few_seen_twice_or_parts_that_differ_tell_no_better():
    loose, known = replace(MODEL, spread=0.28), MotionPrior(speed_px_s=STEP * 120)
    assert refined_model(seen_twice(5, range(0)), loose, known) is loose
    rng = np.random.default_rng(3)
    own = [passing(-STEP / 2, STEP * rng.uniform(-0.2, 1.2)) for _ in range(20)]
    own = [
        replace(one, sights=[replace(s, t_s=s.t_s + k) for s in one.sights])
        for k, one in enumerate(own)
    ]
    assert refined_model(own, loose, known) is loose


@pytest.mark.parametrize("known_px", [0.0, 0.1])
def test_the_scatter_is_learned_whatever_was_foreseen_before(known_px: float):
    """Before anything is known the linker adds some to the detector's noise, 0.01 px here."""
    rng = np.random.default_rng(4)
    before = known_px or FIRST_SHAPE_PX
    tracks = []
    for k in range(60):
        one = passing(*(STEP * n + 0.03 * rng.normal() for n in range(-3, 4)))
        one.sights = [
            replace(sight, t_s=sight.t_s + 0.5 * k, var_y=0.01**2 + before**2)
            for sight in one.sights
        ]
        tracks.append(one)
    model = replace(MODEL, sigma_shape_px=known_px)
    learned = refined_model(tracks, model, MotionPrior(acceleration_px_s2=0.0))
    # The median of chi² with five degrees of freedom is 0.87 of its mean.
    expected = np.sqrt(0.87 * 0.03**2 - 0.01**2)
    assert learned.sigma_shape_px == pytest.approx(expected, rel=0.15)


def test_a_file_that_allows_no_tolerance_still_lets_parts_differ():
    geometry = Geometry(falls=Falls.DOWN, line_px=240.0, view=(0, 0, 160, 480), picture=(160, 480))
    prior = MotionPrior(speed_px_s=1000.0, speed_tolerance=0.0, acceleration_px_s2=0.0)
    (only,) = first_models([], geometry, prior)
    assert only.spread > 0.0
