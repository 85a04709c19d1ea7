"""Outlines against closed forms."""

import math

import numpy as np
import pytest

from viscount.simulate.demo import M4X12
from viscount.simulate.part import AnyPart, Ball, Box, Nut, Washer
from viscount.simulate.silhouette import silhouette
from viscount.simulate.truth import extent

SCALE = 4.0
NUT = Nut(across_flats_mm=7.0, thickness_mm=3.2, bore_mm=4.0)
WASHER = Washer(diameter_mm=9.0, bore_mm=4.3, thickness_mm=0.8)

CLOSED_FORMS_MM2 = [
    pytest.param(M4X12, 7 * 4 + 4 * 12, id="screw"),
    pytest.param(NUT, math.sqrt(3) / 2 * 49 - math.pi * 4, id="nut"),
    pytest.param(NUT.model_copy(update={"pose": "edge"}), 3.2 * 14 / math.sqrt(3), id="nut-edge"),
    pytest.param(WASHER, math.pi * (4.5**2 - 2.15**2), id="washer"),
    pytest.param(WASHER.model_copy(update={"pose": "edge"}), 0.8 * 9.0, id="washer-edge"),
    pytest.param(Ball(diameter_mm=6.0), math.pi * 9, id="ball"),
    pytest.param(Box(along_mm=8.0, across_mm=4.0), 32.0, id="box"),
]


def drawn(part: AnyPart, angle_deg: float, at: tuple[float, float]) -> np.ndarray:
    """Cover of a 120 x 120 px picture with the part's centroid at `at`."""
    down = np.arange(120.0)[:, None] - at[0]
    beside = np.arange(120.0)[None, :] - at[1]
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return np.asarray(
        silhouette(part, SCALE).cover(cos * down + sin * beside, cos * beside - sin * down)
    )


@pytest.mark.parametrize(("part", "area_mm2"), CLOSED_FORMS_MM2)
@pytest.mark.parametrize("angle_deg", [0.0, 17.0, 45.0, 90.0])
def test_drawn_area(part: AnyPart, area_mm2: float, angle_deg: float) -> None:
    cover = drawn(part, angle_deg, (59.37, 60.81))
    assert cover.min() >= -1e-12
    assert cover.max() <= 1.0 + 1e-9
    assert silhouette(part, SCALE).area == pytest.approx(area_mm2 * SCALE**2, rel=1e-9)
    assert cover.sum() == pytest.approx(area_mm2 * SCALE**2, rel=0.01)


@pytest.mark.parametrize(("part", "area_mm2"), CLOSED_FORMS_MM2)
@pytest.mark.parametrize("angle_deg", [0.0, 17.0, 90.0])
def test_centroid_is_the_origin(part: AnyPart, area_mm2: float, angle_deg: float) -> None:
    cover = drawn(part, angle_deg, (59.37, 60.81))
    rows, columns = np.indices(cover.shape)
    assert (cover * rows).sum() / cover.sum() == pytest.approx(59.37, abs=0.02)
    assert (cover * columns).sum() / cover.sum() == pytest.approx(60.81, abs=0.02)


@pytest.mark.parametrize(("part", "area_mm2"), CLOSED_FORMS_MM2)
@pytest.mark.parametrize("angle_deg", [0.0, 17.0, 90.0])
def test_extent_bounds_what_is_drawn(part: AnyPart, area_mm2: float, angle_deg: float) -> None:
    cover = drawn(part, angle_deg, (60.0, 60.0)) > 0.5
    rows, columns = np.flatnonzero(cover.any(axis=1)), np.flatnonzero(cover.any(axis=0))
    reach = extent(silhouette(part, SCALE), math.radians(angle_deg))
    seen = (60 - rows[0], rows[-1] - 60, 60 - columns[0], columns[-1] - 60)
    # A sharp corner fills less than half of its last pixels.
    assert reach == pytest.approx(seen, abs=1.6)
    assert silhouette(part, SCALE).radius >= max(reach) - 1e-9


def test_head_of_a_screw_is_upstream() -> None:
    widths = drawn(M4X12, 0.0, (60.0, 60.0)).sum(axis=1)
    rows = np.flatnonzero(widths)
    assert widths[rows[3]] == pytest.approx(28.0)
    assert widths[rows[-3]] == pytest.approx(16.0)


def test_thin_part_is_as_dark_as_it_is_thin() -> None:
    """A washer on its edge, 0.4 px thick, covers 0.4 of a pixel."""
    thin = WASHER.model_copy(update={"pose": "edge", "thickness_mm": 0.1})
    assert drawn(thin, 0.0, (60.0, 60.0)).max() == pytest.approx(0.4)
