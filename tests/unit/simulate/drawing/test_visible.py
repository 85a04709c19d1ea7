"""How much of each part is to be seen, and that nothing at the border is left out."""

import numpy as np
import pytest

from viscount.simulate.geometry import upright
from viscount.simulate.physics import paths as paths_of
from viscount.simulate.pour import Pour, simulate
from viscount.simulate.scene import (
    Bag,
    Belt,
    Box,
    Camera,
    Lanes,
    Part,
    Scene,
    Surroundings,
    Times,
    View,
)
from viscount.values import Marks

BACKGROUND, GREY = 200.0, 50.0
BOX = Box(along_mm=10.0, across_mm=5.0)


def camera(**more: object) -> Camera:
    still: dict[str, object] = {"fps": 100.0, "exposure_us": 0.0, "noise": 0.0}
    return Camera.model_validate(still | {"background_grey": BACKGROUND, "part_grey": GREY} | more)


def pour(part: Part = BOX, **more: object) -> Pour:
    """A part of 40 x 20 px on a belt at 3200 px/s: in frame k its centre is on row 32 k - 60."""
    fields: dict[str, object] = {
        "parts": (part,),
        "release": Times(times_ms=(0.0,)),
        "motion": Belt(speed_mm_s=800.0),
        "view": View(width_px=80, height_px=160, lip_px=-60.0, line_px=80.0),
        "camera": camera(),
        "lead_in_s": 0.0,
        "duration_s": 0.1,
    }
    return simulate(Scene.model_validate(fields | more))


@pytest.mark.parametrize(
    ("frame", "inside"),
    [(2, 24.5 / 40), (3, 1.0), (6, 1.0), (7, 15.5 / 40)],
    ids=["comes in", "whole", "still whole", "goes out"],
)
@pytest.mark.parametrize("blur_px", [0.0, 1.5])
def test_share_inside_the_view_of_the_whole_outline(
    frame: int, inside: float, blur_px: float
) -> None:
    made = pour(camera=camera(blur_px=blur_px))
    visible = made.studio.visible(made.times[frame])[0]
    assert visible.area_px == pytest.approx(800.0)
    assert visible.inside == pytest.approx(inside, abs=1e-4)
    assert visible.share == pytest.approx(1.0)
    assert visible.grey == pytest.approx(GREY)


def test_what_the_lip_hides_is_not_inside() -> None:
    view = View(width_px=80, height_px=160, lip_px=40.0, line_px=80.0)
    made = pour(view=view, release=Times(times_ms=(40.0,)))
    visible = made.studio.visible(made.times[4])[0]
    assert visible.inside == pytest.approx(0.5, abs=0.02)
    assert visible.area_px == pytest.approx(800.0)


def test_what_covers_a_part_is_taken_at_the_moment_of_the_picture() -> None:
    """With times of the exposure's start the picture shows what was half an exposure later."""
    bag = Bag(rim_px=80.0, sway_px=15.0, sway_hz=30.0)
    made = pour(
        motion=Belt(speed_mm_s=10.0),
        release=Times(times_ms=(-3500.0,)),
        camera=camera(exposure_us=9000.0, marks=Marks.START),
        surroundings=Surroundings(bag=bag),
    )
    time = made.times[3]
    shown = (made.studio.noiseless(time)[:, 40] < GREY + 1).sum() / 40
    visible = made.studio.visible(time)[0]
    assert visible.share == pytest.approx(shown, abs=0.05)
    assert 0.1 < shown < 0.9


def test_a_near_part_shows_as_soon_as_its_rim_is_in_the_view() -> None:
    """Near a camera a plate is larger than in the plane of the lanes."""
    seen_early = 0
    for seed in range(12):
        for late_ms in np.arange(0.0, 10.0, 1.0):
            made = pour(
                Box(along_mm=16.0, across_mm=4.0),
                seed=seed,
                release=Times(times_ms=(float(late_ms) - 20.0,)),
                lanes=Lanes(depth_spread_mm=15.0),
                view=View(
                    width_px=160, height_px=160, lip_px=-60.0, line_px=80.0, distance_mm=60.0
                ),
            )
            motion, up = paths_of(made.scene, 80.0), upright(made.scene)
            for time in made.times[:6]:
                t = np.array(time.t_ns * 1e-9)
                place = motion.along(0, t)[0], motion.across(0, t), motion.depth(0, t)
                row, half = float(up.place(*place)[0]), 8.0 * float(up.scale_at(*place))
                if row < -34 and row + half > 0.5:
                    assert made.studio.noiseless(time)[0].min() < BACKGROUND - 40
                    assert 0 in made.studio.visible(time)
                    seen_early += 1
    assert seen_early > 5


def test_a_part_alone_is_the_picture_without_the_others() -> None:
    both = pour(release=Times(times_ms=(0.0, 11.0)), camera=camera(exposure_us=500.0))
    only = pour(release=Times(times_ms=(0.0,)), camera=camera(exposure_us=500.0))
    time = both.times[5]
    alone = both.studio.part_alone(time, 0)
    np.testing.assert_array_equal(alone, only.studio.noiseless(only.times[5]))
    assert not np.array_equal(alone, both.studio.noiseless(time))
