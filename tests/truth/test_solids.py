"""Solid parts against closed forms from outside the simulator."""

import math

import numpy as np
import pytest
from pydantic import TypeAdapter

from viscount.simulate.scene import AnyPart, Ball, Nut, Part, Screw, Washer
from viscount.simulate.scene.fasteners import (
    BUTTON_HEADS,
    HEXAGON_HEADS,
    NUTS,
    SOCKET_HEADS,
    WASHERS,
)
from viscount.simulate.solids import inertia_ratio, projected

PART: TypeAdapter[AnyPart] = TypeAdapter(Part)


def rotations(count: int) -> np.ndarray:
    q = np.random.default_rng(20).standard_normal((count, 4))
    w, x, y, z = (q / np.linalg.norm(q, axis=1)[:, None]).T
    rows = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ]
    return np.moveaxis(np.array(rows), 2, 0)


def mean_area(part: AnyPart) -> tuple[float, float]:
    areas = [projected(part, r).outline.area for r in rotations(3000)]
    return float(np.mean(areas)), float(np.std(areas) / math.sqrt(len(areas)))


def test_mean_shadow_of_a_convex_body_is_a_quarter_of_its_surface() -> None:
    """Cauchy's surface area formula, 1841 (from memory), over orientations drawn evenly."""
    disc = Washer(diameter_mm=9.0, bore_mm=0.0, thickness_mm=2.0)
    prism = Nut(across_flats_mm=7.0, bore_mm=0.0, thickness_mm=3.2)
    hexagon = math.sqrt(3) / 2 * 49
    surfaces = {
        disc: 2 * math.pi * 4.5**2 + math.pi * 9 * 2,
        prism: 2 * hexagon + 6 * 7 / math.sqrt(3) * 3.2,
        Ball(diameter_mm=6.0): math.pi * 36,
    }
    for part, surface in surfaces.items():
        mean, sigma = mean_area(part)
        assert abs(mean - surface / 4) < 4 * sigma + 2e-3 * mean


def test_tilted_cylinder() -> None:
    """2 r L sin(t) + pi r² cos(t), t from the line of sight to the axis (plane geometry)."""
    rod = Washer(diameter_mm=4.0, bore_mm=0.0, thickness_mm=12.0)
    for t in np.radians([0, 10, 35, 60, 90]):
        lean = np.array([[np.cos(t), 0, -np.sin(t)], [0, 1, 0], [np.sin(t), 0, np.cos(t)]])
        area = 2 * 2.0 * 12 * np.sin(t) + math.pi * 4 * np.cos(t)
        assert projected(rod, lean).outline.area == pytest.approx(area, rel=1e-3)


@pytest.mark.parametrize("tilt_deg", [0, 20, 50, 65, 72, 77, 79, 80, 90])
def test_bore_of_a_tilted_washer(tilt_deg: float) -> None:
    """A lens is open, where two circles h tan(t) apart overlap, squeezed by cos(t).

    2 r² acos(d / 2r) - d/2 sqrt(4 r² - d²) for the lens (plane geometry, from memory). The bore
    of an M4 washer shuts at atan(4.3 / 0.8) = 79.5 degrees.
    """
    t = math.radians(tilt_deg)
    lean = np.array([[np.cos(t), 0, -np.sin(t)], [0, 1, 0], [np.sin(t), 0, np.cos(t)]])
    big, r, h = 4.5, 2.15, 0.8
    d = h * math.tan(t)
    lens = 2 * r**2 * math.acos(d / 2 / r) - d / 2 * math.sqrt(4 * r**2 - d**2) if d < 2 * r else 0
    area = math.pi * big**2 * math.cos(t) + 2 * big * h * math.sin(t) - lens * math.cos(t)
    ring = Washer(diameter_mm=2 * big, bore_mm=2 * r, thickness_mm=h)
    assert projected(ring, lean).outline.area == pytest.approx(area, rel=1e-4)


def test_moments_of_inertia() -> None:
    """m r² / 2 about the axis, m (3 r² + h²) / 12 across it; any textbook, from memory."""
    disc = Washer(diameter_mm=9.0, bore_mm=0.0, thickness_mm=2.0)
    assert inertia_ratio(disc) == pytest.approx((4.5**2 / 2) / ((3 * 4.5**2 + 4) / 12))
    ring = Washer(diameter_mm=9.0, bore_mm=4.3, thickness_mm=0.8)
    square = 4.5**2 + 2.15**2
    assert inertia_ratio(ring) == pytest.approx((square / 2) / ((3 * square + 0.64) / 12))
    assert inertia_ratio(Ball(diameter_mm=3.0)) == 1.0
    # A dome as high as it is wide is half a ball: 2/5 m r² about both, less 9/64 m r² across.
    mushroom = Screw(
        overall_length_mm=3.0 + 1e-6,
        head_height_mm=3.0,
        head_diameter_mm=6.0,
        shank_diameter_mm=1e-3,
        head="dome",
    )
    assert inertia_ratio(mushroom) == pytest.approx(0.4 / (0.4 - 9 / 64), rel=1e-3)


def test_hexagon_prism_by_adding_up_its_points() -> None:
    """A nut's moments from a grid of points within six sides and outside the bore."""
    nut = Nut(across_flats_mm=7.0, thickness_mm=3.2, bore_mm=4.0)
    x, y = np.meshgrid(*2 * [np.linspace(-4.1, 4.1, 1641)])
    sides = [np.abs(x * np.cos(a) + y * np.sin(a)) <= 3.5 for a in np.radians([30, 90, 150])]
    inside = np.logical_and.reduce(sides) & (np.hypot(x, y) >= 2.0)
    xx, yy = np.mean(x[inside] ** 2), np.mean(y[inside] ** 2)
    assert inertia_ratio(nut) == pytest.approx((xx + yy) / (xx + 3.2**2 / 12), rel=1e-3)


def test_screw_by_its_two_cylinders() -> None:
    """The parallel axis theorem for an M4x12's head and shank, worked by hand."""
    screw = PART.validate_python({"standard": "ISO 4762 M4x12"})
    head, shank = 3.5**2 * 4, 2.0**2 * 12
    centre = (head * 2 + shank * 10) / (head + shank)
    own = head * 3.5**2 / 2 + shank * 2.0**2 / 2
    across = head * (3 * 3.5**2 + 16) / 12 + shank * (3 * 2.0**2 + 144) / 12
    across += head * (centre - 2) ** 2 + shank * (10 - centre) ** 2
    assert inertia_ratio(screw) == pytest.approx(own / across, rel=1e-9)


SIZES = ["M2", "M2.5", "M3", "M4", "M5", "M6", "M8"]


def test_fastener_tables() -> None:
    """As read in bd-warehouse 0.4.0 and FreeCAD's fastener tables, which agree on these.

    ISO 4762 head height and plain head diameter, ISO 4032 across flats and height, ISO 7089
    bore and diameter, ISO 7380-1 head, ISO 4017 across flats; the standards were not seen.
    """
    heads = [SOCKET_HEADS[size] for size in SIZES]
    assert [k for _, k in heads] == [2, 2.5, 3, 4, 5, 6, 8]
    assert [dk for dk, _ in heads] == [3.8, 4.5, 5.5, 7.0, 8.5, 10.0, 13.0]
    nuts = [NUTS[size] for size in SIZES]
    assert nuts == [(4, 1.6), (5, 2), (5.5, 2.4), (7, 3.2), (8, 4.7), (10, 5.2), (13, 6.8)]
    washers = [WASHERS[size][:2] for size in SIZES]
    assert washers == [(2.2, 5), (2.7, 6), (3.2, 7), (4.3, 9), (5.3, 10), (6.4, 12), (8.4, 16)]
    # Nominal thickness, from FreeCAD's table; the other one lists the greatest.
    assert [WASHERS[size][2] for size in SIZES] == [0.3, 0.5, 0.5, 0.8, 1, 1.6, 1.6]
    buttons = [BUTTON_HEADS[size] for size in SIZES[2:]]
    assert buttons == [(5.7, 1.65), (7.6, 2.2), (9.5, 2.75), (10.5, 3.3), (14, 4.4)]
    hexagons = [HEXAGON_HEADS[size] for size in SIZES]
    assert [s for s, _ in hexagons] == [4, 5, 5.5, 7, 8, 10, 13]
    assert [k for _, k in hexagons] == [1.4, 1.7, 2.0, 2.8, 3.5, 4.0, 5.3]


def test_overall_length_holds_the_head() -> None:
    """An M4x12 ISO 4762 screw is 16 mm long: length and head height 4."""
    screw = PART.validate_python({"standard": "ISO 4762 M4x12"})
    assert isinstance(screw, Screw)
    assert screw.overall_length_mm == 16.0
