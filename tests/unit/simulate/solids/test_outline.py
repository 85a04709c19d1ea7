"""Outlines of solids: what is drawn of them, and what they say of themselves."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.measure import label, regionprops

from viscount.simulate.demo import M4X12
from viscount.simulate.scene import AnyPart, Ball, Box, Nut, Screw, Washer
from viscount.simulate.solids import Projection, projected, rotation_at_rest
from viscount.simulate.solids.outline import overlap

SCALE = 4.0
NUT = Nut(across_flats_mm=7.0, thickness_mm=3.2, bore_mm=4.0)
WASHER = Washer(diameter_mm=9.0, bore_mm=4.3, thickness_mm=0.8)
HEXAGON_SCREW = M4X12.model_copy(update={"head": "hexagon"})
DOMED_SCREW = M4X12.model_copy(update={"head": "dome", "head_height_mm": 2.2})
TURNED = [M4X12, HEXAGON_SCREW, DOMED_SCREW, NUT, WASHER]

CLOSED_FORMS_MM2 = [
    pytest.param(M4X12, 7 * 4 + 4 * 12, id="screw"),
    pytest.param(NUT, math.sqrt(3) / 2 * 49 - math.pi * 4, id="nut"),
    pytest.param(NUT.model_copy(update={"pose": "edge"}), 3.2 * 14 / math.sqrt(3), id="nut-edge"),
    pytest.param(NUT.model_copy(update={"pose": "standing"}), 3.2 * 14 / math.sqrt(3), id="nut-up"),
    pytest.param(WASHER, math.pi * (4.5**2 - 2.15**2), id="washer"),
    pytest.param(WASHER.model_copy(update={"pose": "edge"}), 0.8 * 9.0, id="washer-edge"),
    pytest.param(WASHER.model_copy(update={"pose": "standing"}), 0.8 * 9.0, id="washer-up"),
    pytest.param(Ball(diameter_mm=6.0), math.pi * 9, id="ball"),
    pytest.param(Box(along_mm=8.0, across_mm=4.0), 32.0, id="box"),
]


def about_depth(angle_deg: float) -> np.ndarray:
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])


def rotation(seed: int) -> np.ndarray:
    """A rotation drawn evenly from all of them."""
    w, x, y, z = (q := np.random.default_rng(seed).standard_normal(4)) / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )


def seen(part: AnyPart, angle_deg: float = 0.0) -> Projection:
    return projected(part, about_depth(angle_deg) @ rotation_at_rest(part), SCALE)


def drawn(view: Projection, at: tuple[float, float] = (59.37, 60.81)) -> np.ndarray:
    """Cover of a 120 x 120 px picture with the part's centre of mass at `at`."""
    down = np.arange(120.0)[:, None] - at[0]
    beside = np.arange(120.0)[None, :] - at[1]
    cos, sin = math.cos(view.angle_rad), math.sin(view.angle_rad)
    return np.asarray(view.cover(cos * down + sin * beside, cos * beside - sin * down))


@pytest.mark.parametrize(("part", "area_mm2"), CLOSED_FORMS_MM2)
@pytest.mark.parametrize("angle_deg", [0.0, 17.0, 45.0, 90.0])
def test_drawn_area(part: AnyPart, area_mm2: float, angle_deg: float) -> None:
    view = seen(part, angle_deg)
    cover = drawn(view)
    assert cover.min() >= -1e-9
    assert cover.max() <= 1.0 + 1e-9
    assert view.outline.area == pytest.approx(area_mm2 * SCALE**2, rel=1e-4)
    assert cover.sum() == pytest.approx(area_mm2 * SCALE**2, rel=0.005)


@pytest.mark.parametrize("part", TURNED, ids=lambda p: getattr(p, "head", p.shape))
@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), shift=st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5)))
def test_area_centroid_and_reach_from_any_side(
    part: AnyPart, seed: int, shift: tuple[float, float]
) -> None:
    view = projected(part, rotation(seed), SCALE)
    at = 60.0 + shift[0], 60.0 + shift[1]
    cover = drawn(view, at)
    rows, columns = np.indices(cover.shape)
    assert cover.min() >= -1e-9
    assert cover.max() <= 1 + 1e-9
    assert cover.sum() == pytest.approx(view.outline.area, rel=0.01)
    along, across = view.offset
    assert (cover * rows).sum() / cover.sum() == pytest.approx(at[0] + along, abs=0.1)
    assert (cover * columns).sum() / cover.sum() == pytest.approx(at[1] + across, abs=0.1)
    for angle in np.arange(8) * math.pi / 4:
        out = math.cos(angle), math.sin(angle)
        far = (rows - at[0]) * out[0] + (columns - at[1]) * out[1]
        assert far[cover > 0.5].max() <= view.reach(*out) + 0.75
        assert far[cover > 0.02].max() >= view.reach(*out) - 1.25


@pytest.mark.parametrize("part", TURNED, ids=lambda p: getattr(p, "head", p.shape))
def test_region_properties_agree(part: AnyPart) -> None:
    """skimage.measure.regionprops of the drawn outline, weighted by cover."""
    for seed in range(12):
        view = projected(part, rotation(seed), SCALE)
        cover = drawn(view)
        (region,) = regionprops(label(cover > 1e-3), intensity_image=cover)
        along, across = view.offset
        row, column = region.centroid_weighted
        assert row == pytest.approx(59.37 + along, abs=0.1)
        assert column == pytest.approx(60.81 + across, abs=0.1)
        area = region.area * region.intensity_mean
        assert area == pytest.approx(view.outline.area, rel=0.01)


@pytest.mark.parametrize("head", ["cylinder", "hexagon", "dome"])
@pytest.mark.parametrize("angle_deg", [-80.0, -30.0, 0.0, 17.0, 63.0])
def test_region_properties_find_the_angle_of_a_screw(head: str, angle_deg: float) -> None:
    """skimage.measure.regionprops: orientation, from the rows towards the columns."""
    view = seen(M4X12.model_copy(update={"head": head}), angle_deg)
    (region,) = regionprops(label(drawn(view) > 0.5))
    assert view.angle_rad == pytest.approx(math.radians(angle_deg))
    turned = math.degrees(region.orientation) - angle_deg
    assert (turned + 90) % 180 - 90 == pytest.approx(0.0, abs=1.0)


@pytest.mark.parametrize("angle_deg", [0.0, 17.0, 30.0, 45.0, 80.0, 90.0])
def test_thin_part_where_px_are_few(angle_deg: float) -> None:
    """A washer of 0.8 mm on its edge at 2 px/mm: 1.6 px thick, wherever in the px it lies."""
    edge = WASHER.model_copy(update={"pose": "edge"})
    view = projected(edge, about_depth(angle_deg) @ rotation_at_rest(edge), 2.0)
    places = 60 + np.random.default_rng(8).uniform(-0.5, 0.5, (60, 2))
    areas = np.array([drawn(view, (row, column)).sum() for row, column in places])
    areas /= 0.8 * 9.0 * 4
    assert areas == pytest.approx(1.0, abs=0.004)


@pytest.mark.parametrize("askew_deg", [0.0, 1e-3, 10.0, 45.0, 70.0, 90.0, 135.0])
def test_half_of_a_square_beyond_a_straight_edge(askew_deg: float) -> None:
    """Against a fine grid of points in a square that is turned."""
    points = (np.arange(400) + 0.5) / 400 - 0.5
    a = math.radians(askew_deg)
    across = (points[:, None] * math.cos(a) + points[None, :] * math.sin(a)).ravel()
    for edge in (-0.8, -0.4, -0.1, 0.0, 0.2, 0.65):
        share = overlap(np.array([0.0]), edge, 9.0, a)
        assert share == pytest.approx((across > edge).mean(), abs=3e-3)


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 45.0, 89.0, 90.0, 120.0])
def test_plate_on_its_edge_is_as_long_as_it_reaches_along_the_fall(angle_deg: float) -> None:
    """A beam across the fall sees |12 cos| + |4 sin| of a plate 12 x 4 that has turned."""
    plate = Box(along_mm=12.0, across_mm=4.0)
    rotation = about_depth(angle_deg) @ rotation_at_rest(plate)
    a = math.radians(angle_deg)
    length = 12 * abs(math.cos(a)) + 4 * abs(math.sin(a))
    for view in (projected(plate, rotation), projected(plate, rotation[[0, 2, 1]])):
        assert view.reach(1.0, 0.0) + view.reach(-1.0, 0.0) == pytest.approx(length)


@pytest.mark.parametrize("part", TURNED, ids=lambda p: getattr(p, "head", p.shape))
def test_single_floats_stay_single(part: AnyPart) -> None:
    at = np.arange(-30, 30, dtype=np.float32)
    for seed in range(4):
        cover = projected(part, rotation(seed), SCALE).cover(at[:, None], at)
        assert cover.dtype == np.float32


def test_centre_of_mass_of_a_screw_is_its_origin() -> None:
    """Head pi 3.5² 4 about 2, shank pi 2² 12 about 10; areas 28 about 2 and 48 about 10."""
    mass = (3.5**2 * 4 * 2 + 2**2 * 12 * 10) / (3.5**2 * 4 + 2**2 * 12)
    area = (28 * 2 + 48 * 10) / 76
    view = projected(M4X12, rotation_at_rest(M4X12))
    assert view.offset == pytest.approx((area - mass, 0.0), abs=1e-9)
    assert view.reach(1.0, 0.0) == pytest.approx(16 - mass)
    assert view.reach(-1.0, 0.0) == pytest.approx(mass)
    assert view.reach(0.0, 1.0) == pytest.approx(3.5)


def test_a_screw_lies_along_the_fall_with_its_head_upstream() -> None:
    cover = drawn(seen(M4X12), (60.0, 60.0))
    widths = cover.sum(axis=1)
    assert widths[:60].max() == pytest.approx(28.0, abs=0.1)
    assert widths[70:].max() == pytest.approx(16.0, abs=0.1)


def test_turned_to_the_right_its_leading_end_is_on_the_right() -> None:
    cover = drawn(seen(M4X12, 90.0), (60.0, 60.0))
    heights = cover.sum(axis=0)
    assert heights[:60].max() == pytest.approx(28.0, abs=0.1)
    assert heights[70:].max() == pytest.approx(16.0, abs=0.1)


@pytest.mark.parametrize("tilt_deg", [0, 20, 50, 80, 90])
def test_bore_closes_as_a_washer_tilts(tilt_deg: float) -> None:
    """Open where both rims are: an ellipse less what the thickness hides of it.

    For a ring so thin that its thickness hides nothing the hole is r² pi cos(tilt).
    """
    thin = Washer(diameter_mm=9.0, bore_mm=4.3, thickness_mm=1e-4)
    t = math.radians(tilt_deg)
    lean = np.array([[math.cos(t), 0, -math.sin(t)], [0, 1, 0], [math.sin(t), 0, math.cos(t)]])
    view = projected(thin, lean, SCALE)
    ring = math.pi * (4.5**2 - 2.15**2) * math.cos(t) * SCALE**2
    assert view.outline.area == pytest.approx(ring, rel=0.01, abs=0.05)
    thick = projected(WASHER, lean, SCALE)
    assert thick.outline.area >= view.outline.area
    assert (thick.outline.hole is None) == (tilt_deg >= 80)


def test_hexagon_head_is_wider_over_corners() -> None:
    flat = projected(HEXAGON_SCREW, rotation_at_rest(HEXAGON_SCREW))
    roll = about_depth(30.0)
    corner = projected(HEXAGON_SCREW, rotation_at_rest(HEXAGON_SCREW) @ roll)
    widths = sorted([flat.reach(0.0, 1.0), corner.reach(0.0, 1.0)])
    assert widths == pytest.approx([3.5, 7 / math.sqrt(3)])


def test_screws_need_a_head_within_their_length() -> None:
    with pytest.raises(ValueError, match="head_height_mm must be below"):
        Screw(overall_length_mm=3, head_diameter_mm=7, head_height_mm=4, shank_diameter_mm=4)
