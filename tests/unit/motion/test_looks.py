"""How large parts look, without what exposure and readout add."""

from dataclasses import replace

import numpy as np
import pytest
from steady_tracks import model, track

from viscount.motion.looks import SHOWN_SMEAR, growth_of, look_of, looks_of
from viscount.motion.speed import MotionPrior

FALL = model(3000.0, 39_000.0)


def growing(base: float, exposure_s: float) -> list[float]:
    """Lengths of a part that is longer by what it moves while a frame is exposed."""
    places = np.array([(k - 5) * 20.0 for k in range(10)])
    speeds = np.sqrt(3000.0**2 + 2 * 39_000.0 * places)
    return [float(x) for x in base + exposure_s * speeds]


def test_medians_over_whole_sightings():
    look = look_of(track([60.0, 61.0, 90.0], 900.0), model(), 0.0)
    assert look is not None
    assert (look.length, look.area) == (61.0, 900.0)
    assert look.gyration == pytest.approx(20.0)
    assert look_of(track([60.0], 900.0), model(), 0.0) is None


def test_a_readout_along_the_fall_stretches_and_squeezes():
    with_fall = look_of(track(60.0, 900.0), model(3000.0), 30e-6)
    against = look_of(track(60.0, 900.0), model(3000.0), -30e-6)
    assert with_fall is not None
    assert against is not None
    assert with_fall.length == pytest.approx(60.0 * 0.91)
    assert against.area == pytest.approx(900.0 * 1.09)
    assert against.var_along == pytest.approx(0.8 * 400 * 1.09**2)
    assert against.var_across == pytest.approx(0.2 * 400)


@pytest.mark.parametrize("exposure_s", [0.0, 3e-4, 1e-3])
def test_growth_with_speed_tells_the_exposure(exposure_s: float):
    tracks = [track(growing(40.0 + k, exposure_s), 900.0, step=20.0) for k in range(6)]
    growth = growth_of(tracks, FALL, MotionPrior())
    assert growth.s == pytest.approx(exposure_s, abs=2e-5)
    assert growth.exposure_s == pytest.approx(exposure_s / SHOWN_SMEAR, abs=3e-5)
    look = look_of(tracks[0], FALL, 0.0)
    assert look is not None
    assert look.sharp(growth).length == pytest.approx(40.0, abs=0.2)


def test_no_more_growth_than_the_stated_exposure_allows():
    tracks = [track(growing(40.0, 1e-3), 900.0, step=20.0) for _ in range(6)]
    assert growth_of(tracks, FALL, MotionPrior(exposure_s=2e-4)).s == 2e-4


def test_where_parts_do_not_tell_the_stated_exposure_does():
    steady = [track(40.0, 900.0) for _ in range(6)]
    assert growth_of(steady, model(), MotionPrior(exposure_s=1e-3)).s == pytest.approx(8.5e-4)
    unknown = growth_of(steady, model(), MotionPrior())
    assert (unknown.s, unknown.exposure_s) == (0.0, 0.0)
    assert unknown.sigma_s > 0


def test_a_smear_adds_its_second_moment_along_the_fall():
    look = look_of(track(60.0, 900.0, gyration=20.0), model(3000.0), 0.0)
    growth = growth_of([], model(), MotionPrior(exposure_s=2e-3))
    assert look is not None
    sharp = look.sharp(growth)
    assert sharp.var_along == pytest.approx(320.0 - 6.0**2 / 12)
    assert sharp.var_across == look.var_across


def test_two_pieces_of_a_known_part_count_as_one():
    """A bar of 30 px with 4 px missing in its middle, by its own second moment."""
    upper = track(13.0, 208.0, gyration=0.0)
    lower = track(13.0, 208.0, at_s=0.0, gyration=0.0)
    apart = track(13.0, 208.0, at_s=1.0)
    own = 13.0**2 / 12
    upper.sights = [replace(sight, y=sight.y - 17.0, var_along=own) for sight in upper.sights]
    lower.sights = [replace(sight, var_along=own) for sight in lower.sights]
    upper.along = replace(upper.along, place=-17.0)
    known = MotionPrior(part_length_px=30.0)
    (kept, look), _ = looks_of([lower, upper, apart], model(), known)
    assert kept is lower
    assert (look.length, look.area) == (30.0, 416.0)
    bar = (30.0 * (30.0**2 / 12) - 4.0 * (4.0**2 / 12)) / 26.0
    assert look.var_along == pytest.approx(bar)
    assert len(looks_of([lower, upper, apart], model(), MotionPrior())) == 3
