"""How far outlines reach, as the readout stretches or squeezes them."""

import math

import numpy as np
import pytest

from viscount.simulate.geometry import upright
from viscount.simulate.pour import simulate
from viscount.simulate.scene import Box, Nut, Part, Scene, Screw, Times, Turning
from viscount.simulate.truth.places import DIRECTIONS, Shape, Shapes

PARTS = {
    "plate": Box(along_mm=8.0, across_mm=3.0),
    "nut": Nut(across_flats_mm=7.0, thickness_mm=3.2, bore_mm=4.0),
    "screw": Screw(
        overall_length_mm=16.0, head_diameter_mm=7.0, head_height_mm=4.0, shank_diameter_mm=4.0
    ),
}


def shape(part: Part, angle_deg: float) -> tuple[Shape, np.ndarray]:
    """A part's shape, and how far it reaches from its centroid every quarter of a degree."""
    turning = Turning(angle_deg=angle_deg)
    scene = Scene(parts=(part,), release=Times(times_ms=(0.0,)), turning=turning)
    shapes = Shapes(scene, simulate(scene)._paths, upright(scene))
    made, seen = shapes.at(0, 0.5), shapes.projection(0, 0.5)
    along, across = made.offset
    way = np.radians(np.arange(0, 360, 0.25))
    reach = [
        seen.reach(c, s) - c * along - s * across
        for c, s in zip(np.cos(way).tolist(), np.sin(way).tolist(), strict=True)
    ]
    return made, np.array(reach)


def stretched(reach: np.ndarray, stretch: float) -> np.ndarray:
    """The support function of what is stretched along the fall: h(S d), S d no unit vector."""
    found = []
    for along, across in DIRECTIONS * (stretch, 1.0):
        way = math.degrees(math.atan2(across, along)) % 360
        every = np.interp(way, np.arange(0, 360.25, 0.25), np.append(reach, reach[0]))
        found.append(math.hypot(along, across) * float(every))
    return np.array(found)


@pytest.mark.parametrize("name", list(PARTS))
@pytest.mark.parametrize("angle_deg", [0.0, 30.0])
@pytest.mark.parametrize("stretch", [0.6, 1.0, 1.5, 2.5])
def test_it_is_never_short_and_exact_along_and_across(
    name: str, angle_deg: float, stretch: float
) -> None:
    made, reach = shape(PARTS[name], angle_deg)
    said, true = made.stretched(stretch), stretched(reach, stretch)
    assert (said >= true - 1e-3).all()
    assert said[::4] == pytest.approx(true[::4], abs=1e-3)
    if stretch == 1.0:
        assert said == pytest.approx(true, abs=1e-3)


@pytest.mark.parametrize("stretch", [0.6, 1.5, 2.5])
def test_it_is_exact_for_a_plate_along_the_fall(stretch: float) -> None:
    made, reach = shape(PARTS["plate"], 0.0)
    assert made.stretched(stretch) == pytest.approx(stretched(reach, stretch), abs=1e-3)
