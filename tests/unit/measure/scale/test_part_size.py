"""How large parts are at half grey, and the scale by that."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from viscount.codes import Code
from viscount.measure.scale.extent import Extent, extent
from viscount.measure.scale.part_size import Sized, Stated, by_part, stated_size

Floats = NDArray[np.float64]
FINE = 8


def drawn(inside, height: int, width: int, *, blur: float = 0.7, smear: float = 0.0) -> Floats:
    """Return a part of grey 120 drawn from a predicate of (down, across) from the middle."""
    y, x = np.mgrid[0 : height * FINE, 0 : width * FINE] / FINE
    y, x = y - height / 2, x - width / 2
    moments = np.linspace(-0.5, 0.5, 21 if smear else 1)
    picture = np.mean([inside(y - smear * m, x) for m in moments], axis=0)
    picture = picture.reshape(height, FINE, width, FINE).mean((1, 3))
    noise = np.random.default_rng(5).normal(size=picture.shape)
    return np.abs(gaussian_filter(120.0 * picture, blur) + 1.5 * noise)


def bar(length: float, width: float, slant_deg: float = 0.0):
    c, s = math.cos(math.radians(slant_deg)), math.sin(math.radians(slant_deg))
    return lambda y, x: (np.abs(c * y + s * x) < length / 2) & (np.abs(c * x - s * y) < width / 2)


def disc(diameter: float):
    return lambda y, x: y**2 + x**2 < (diameter / 2) ** 2


@pytest.mark.parametrize("blur", [0.4, 1.0, 2.0])
@pytest.mark.parametrize("smear", [0.0, 6.0, 15.0])
def test_neither_blur_nor_smear_makes_a_part_longer(blur: float, smear: float):
    found = extent(drawn(bar(40.0, 16.0), 80, 40, blur=blur, smear=smear))
    assert found is not None
    assert found.along == pytest.approx(40.0, abs=0.4)
    assert found.across == pytest.approx(16.0, abs=0.3)


@pytest.mark.parametrize("slant", [-70.0, -30.0, -10.0, 5.0, 20.0, 45.0, 80.0, 90.0])
def test_the_longer_axis_is_found_however_a_part_is_turned(slant: float):
    found = extent(drawn(bar(40.0, 12.0, slant), 64, 64))
    assert found is not None
    assert found.major == pytest.approx(40.0, abs=0.6)
    assert found.minor == pytest.approx(12.0, abs=0.6)


@pytest.mark.parametrize("diameter", [10.0, 26.0])
@pytest.mark.parametrize("share", [0.0, 0.3, 0.7, 1.0])
def test_a_balls_width_is_found_through_its_smear(diameter: float, share: float):
    smear = share * diameter
    side = round(diameter + smear + 16)
    found = extent(drawn(disc(diameter), side, round(diameter + 16), smear=smear))
    assert found is not None
    assert found.round_width == pytest.approx(diameter, rel=0.035)
    # Plain half grey falls short of it by an eighth where it is smeared by itself.
    if share == 1.0:
        assert found.across < 0.93 * diameter


def test_nothing_has_no_extent():
    assert extent(np.zeros((20, 20))) is None
    assert extent(np.full((3, 9), 50.0)) is None
    # What reaches to the border of the patch is not whole in it.
    assert extent(np.full((20, 20), 50.0)) is None


def sized(along: float, major: float, speed: float = 5000.0, n: int = 6) -> Sized:
    one = Extent(along=along, across=20.0, major=major, minor=20.0, smear=0.0)
    return Sized(extents=(one,) * n, speeds_px_s=(speed,) * n)


ALONG = Stated(key="along_fall_mm", mm=16.0, axis="along")


def test_parts_of_known_length():
    way = by_part([sized(64.0 + d, 64.0) for d in (-0.2, -0.1, 0.0, 0.1, 0.2)], ALONG, source="x")
    assert way.value == pytest.approx(4.0)
    assert 0.01 < way.budget.expanded / 4.0 < 0.03
    assert way.notices == ()


def test_a_readout_along_the_fall_is_taken_off():
    # 1 / (1 - v T) of 64 px at 5000 px/s and 31.749 us a line: 1.18870 times (recalculated).
    seen = 64.0 * 1.18870
    way = by_part([sized(seen, seen)] * 3, ALONG, source="x", line_time_along_s=31.749e-6)
    assert way.value == pytest.approx(4.0, rel=1e-4)
    against = by_part(
        [sized(64 * 0.86300, 64)] * 3, ALONG, source="x", line_time_along_s=-31.749e-6
    )
    assert against.value == pytest.approx(4.0, rel=1e-4)


def test_parts_that_turn_are_doubted():
    way = by_part([sized(a, a) for a in (20.0, 35.0, 50.0, 64.0, 66.0)], ALONG, source="x")
    assert [notice.code for notice in way.notices] == [Code.PART_SIZE_UNCLEAR]
    assert way.value is not None
    assert way.budget.expanded > 0.3 * way.value


def test_one_part_may_be_turned():
    alone, few = (
        by_part([sized(64, 64)], ALONG, source=""),
        by_part([sized(64, 64)] * 5, ALONG, source=""),
    )
    assert alone.budget.u > 2 * few.budget.u


def test_no_part_seen_whole():
    way = by_part([sized(64, 64, n=1)], ALONG, source="x")
    assert way.value is None
    assert [notice.code for notice in way.notices] == [Code.PART_SIZE_UNCLEAR]


@pytest.mark.parametrize(
    ("part", "key", "axis", "mm"),
    [
        ({"shape": "ball", "diameter_mm": 6.0, "along_fall_mm": 6.0}, "diameter_mm", "round", 6.0),
        # ISO 4762 M4x12: 12 and the head's 4; across its head 7.
        (
            {"shape": "screw", "overall_length_mm": 16.0, "diameter_mm": 7.0},
            *("overall_length_mm", "major", 16.0),
        ),
        # ISO 7089 M4: 9, and 0.8 thick.
        ({"shape": "washer", "diameter_mm": 9.0, "thickness_mm": 0.8}, "diameter_mm", "major", 9.0),
        # ISO 4032 M4: flats 7, corners 8.08; in the middle 7.54.
        ({"shape": "nut", "diameter_mm": 7.0, "thickness_mm": 3.2}, "diameter_mm", "major", 7.541),
        ({"shape": "other", "along_fall_mm": 8.0}, "along_fall_mm", "along", 8.0),
        ({"along_fall_mm": 8.0, "diameter_mm": 3.0}, "along_fall_mm", "along", 8.0),
    ],
)
def test_the_size_that_pictures_show_best(part: dict, key: str, axis: str, mm: float):
    keys = ("shape", "overall_length_mm", "diameter_mm", "thickness_mm", "along_fall_mm")
    stated = stated_size(**{name: part.get(name) for name in keys})
    assert stated is not None
    assert (stated.key, stated.axis) == (key, axis)
    assert stated.mm == pytest.approx(mm, abs=1e-3)


def test_a_part_without_sizes_tells_nothing():
    empty = dict.fromkeys(
        ("shape", "overall_length_mm", "diameter_mm", "thickness_mm", "along_fall_mm")
    )
    assert stated_size(**empty) is None
