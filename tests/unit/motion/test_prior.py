"""What an outlet file says of a part, in px."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from viscount.motion.geometry import Geometry
from viscount.motion.prior import motion_prior
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
