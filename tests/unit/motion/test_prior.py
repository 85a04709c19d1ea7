"""What an outlet file says of a part, in px."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from taught_parts import taught_keys

from viscount.motion.geometry import Geometry
from viscount.motion.prior import motion_prior
from viscount.motion.speed import MotionPrior
from viscount.outlet import Outlet
from viscount.simulate.scene import AnyPart, Ball, Nut, Screw, Washer
from viscount.simulate.solids import projected
from viscount.values import Falls

SCALE = 4.0
GEOMETRY = Geometry(falls=Falls.DOWN, line_px=80, view=(0, 0, 120, 160), picture=(160, 120))


def most_px(**part: object) -> float | None:
    view = {"scale_px_per_mm": SCALE}
    prior = motion_prior(Outlet.model_validate({"view": view, "part": part}), GEOMETRY)
    return prior.part_area_px


@pytest.mark.parametrize(
    ("solid", "stated", "reached"),
    [
        (Ball(diameter_mm=6.0), {"shape": "ball", "diameter_mm": 6.0}, 1.0),
        (
            Nut(across_flats_mm=7.0, thickness_mm=3.2, bore_mm=0.5),
            {"shape": "nut", "diameter_mm": 7.0, "thickness_mm": 3.2},
            0.97,
        ),
        (
            Washer(diameter_mm=9.0, bore_mm=0.5, thickness_mm=0.8),
            {"shape": "washer", "diameter_mm": 9.0, "thickness_mm": 0.8},
            0.97,
        ),
        (
            Screw(
                overall_length_mm=16.0,
                head_diameter_mm=7.0,
                head_height_mm=4.0,
                shank_diameter_mm=4.0,
            ),
            {"shape": "screw", "diameter_mm": 7.0, "overall_length_mm": 16.0},
            0.6,
        ),
    ],
    ids=["ball", "nut", "washer", "screw"],
)
def test_no_side_of_a_part_shows_more(
    solid: AnyPart, stated: dict[str, object], reached: float
) -> None:
    """Against the outlines that the simulator draws of it, turned at random."""
    turns = Rotation.random(400, random_state=3).as_matrix()
    areas = np.array([projected(solid, turn, SCALE).outline.area for turn in turns])
    most = most_px(**stated)
    assert most is not None
    assert areas.max() <= most * (1 + 1e-5)
    assert areas.max() >= reached * most


def test_a_part_without_sizes_may_show_anything() -> None:
    assert most_px(shape="nut", diameter_mm=7.0) is None
    assert most_px(shape="other", diameter_mm=7.0, thickness_mm=2.0) is None


def prior_of(scale: float | None, part: dict[str, object]) -> MotionPrior:
    view = {} if scale is None else {"scale_px_per_mm": scale}
    return motion_prior(Outlet.model_validate({"view": view, "part": part}), GEOMETRY)


def test_a_taught_part_stands_before_its_stated_sizes() -> None:
    stated = {"shape": "screw", "overall_length_mm": 20.0, "diameter_mm": 7.0, "along_fall_mm": 20}
    prior = prior_of(SCALE, stated | {"taught": taught_keys(length=16.5, area=80.0)})
    single = prior.single
    assert single is not None
    assert prior.part_length_px == single.length.usual == 66.0
    assert prior.part_area_px == pytest.approx(single.area.high) == pytest.approx(1.02 * 80 * 16)
    assert single.gyration.usual == 20.0
    assert single.coarse_px == 1.0


def test_at_another_scale_it_is_as_large_in_mm() -> None:
    single = prior_of(2.0, {"taught": taught_keys(scale=4.0, smear=1.65)}).single
    assert single is not None
    assert (single.length.usual, single.area.usual, single.smear_px) == (33.0, 320.0, 3.3)
    assert single.coarse_px == 0.5
    area = prior_of(2.0, {"taught": taught_keys(scale=4.0, smear=1.65)}).part_area_px
    assert area == pytest.approx(0.9 * single.area.high)


@pytest.mark.parametrize(("taught_at", "scale"), [(None, SCALE), (SCALE, None)])
def test_px_and_mm_say_nothing_of_each_other(taught_at: float | None, scale: float | None) -> None:
    prior = prior_of(scale, {"taught": taught_keys(scale=taught_at)})
    assert (prior.single, prior.part_length_px, prior.part_area_px) == (None, None, None)


def test_px_hold_where_the_scale_is_unknown_still() -> None:
    prior = prior_of(None, {"taught": taught_keys(scale=None, length=66.0)})
    assert prior.part_length_px == 66.0
    assert prior.single is not None
    assert prior.single.scale_px_per_mm is None


def test_a_length_that_differs_from_part_to_part_decides_nothing() -> None:
    """Stated lengths stand, where there are any."""
    turning = {"taught": taught_keys(share=0.3)}
    assert prior_of(SCALE, turning).part_length_px is None
    assert prior_of(SCALE, turning | {"along_fall_mm": 16.0}).part_length_px == 64.0


@pytest.mark.parametrize(
    ("part", "longest_mm"),
    [
        ({"shape": "washer", "diameter_mm": 9.0, "thickness_mm": 0.8}, np.hypot(9.0, 0.8)),
        ({"shape": "ball", "diameter_mm": 6.0}, 6.0),
        (
            {"shape": "screw", "diameter_mm": 7.0, "overall_length_mm": 16.0},
            np.hypot(16.0, 14 / 3**0.5),
        ),
        ({"shape": "screw", "diameter_mm": 7.0}, None),
        ({"along_fall_mm": 7.0}, None),
    ],
)
def test_the_longest_that_a_part_can_be(part: dict[str, object], longest_mm: float | None) -> None:
    expected = None if longest_mm is None else pytest.approx(SCALE * longest_mm)
    assert prior_of(SCALE, part).longest_px == expected


def test_a_readout_along_the_fall_is_handed_on() -> None:
    rolling = Geometry(
        falls=Falls.UP,
        line_px=80,
        view=(0, 0, 120, 160),
        picture=(160, 120),
        line_time_s=2e-5,
        readout=Falls.DOWN,
    )
    assert motion_prior(Outlet(), rolling).line_time_along_s == -2e-5


def test_the_lip_says_how_slow_a_part_can_be_at_the_line():
    """From rest 50 mm above the line: 0.9903 m/s (standard gravity, calculated)."""
    view = {"scale_px_per_mm": SCALE, "lip_px": 80 - 50 * SCALE}
    fall = {"view": view, "motion": {"kind": "free_fall"}}
    prior = motion_prior(Outlet.model_validate(fall), GEOMETRY)
    assert prior.least_speed_px_s == pytest.approx(990.3 * SCALE, rel=1e-4)
    for unknown in ({"view": view}, {"view": {"lip_px": -10.0}, "motion": {"kind": "free_fall"}}):
        assert motion_prior(Outlet.model_validate(unknown), GEOMETRY).least_speed_px_s is None
