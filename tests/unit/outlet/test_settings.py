"""The models: limits, pairs, and values that contradict one another."""

import math

import pytest
from pydantic import ValidationError

from viscount.outlet import BeamSettings, Outlet, Part, given_keys, unit_of
from viscount.values import Falls


def _refused(section: str, **values: object) -> str:
    with pytest.raises(ValidationError) as caught:
        Outlet.model_validate({section: values})
    return str(caught.value)


@pytest.mark.parametrize(
    ("section", "key", "least", "most"),
    [
        ("view", "scale_px_per_mm", None, 1000),
        ("view", "lip_px", -1e6, 1e6),
        ("view", "line_px", -1e6, 1e6),
        ("motion", "acceleration_mm_s2", 0, 20_000),
        ("motion", "speed_mm_s", 0, 100_000),
        ("motion", "speed_tolerance_percent", 0, 100),
        ("camera", "capture_fps", None, 100_000),
        ("camera", "exposure_us", None, 1_000_000),
        ("camera", "line_time_us", 0, 10_000),
        ("beam", "below_lip_mm", -10_000, 10_000),
        ("beam", "at_px", -1e6, 1e6),
        ("gate", "below_lip_mm", -10_000, 10_000),
        ("part", "along_fall_mm", None, 10_000),
        ("part", "bore_mm", None, 10_000),
    ],
)
def test_limits(section: str, key: str, least: float | None, most: float) -> None:
    """`least` None: zero is excluded, and the smallest positive number is not."""
    low = least if least is not None else 5e-324
    for value in (low, most):
        outlet = Outlet.model_validate({section: {key: value}})
        assert getattr(getattr(outlet, section), key) == value
    below = math.nextafter(least, -math.inf) if least is not None else 0.0
    for value in (below, math.nextafter(most, math.inf), math.nan, math.inf, -math.inf):
        assert key in _refused(section, **{key: value})


@pytest.mark.parametrize("value", [True, False, "180", "", [180], {}])
def test_a_number_is_a_number(value: object) -> None:
    assert "line_px" in _refused("view", line_px=value)


def test_an_int_is_a_number() -> None:
    line = Outlet.model_validate({"view": {"line_px": 180}}).view.line_px
    assert line == 180.0
    assert isinstance(line, float)


@pytest.mark.parametrize(
    "box",
    [
        [0, 0, 640],
        [0, 0, 640, 480, 1],
        [0, 0, 640, 480.0],
        [0, 0, 640, True],
        [-1, 0, 640, 480],
        [640, 0, 640, 480],
        [0, 480, 640, 480],
        [640, 480, 0, 0],
        "0, 0, 640, 480",
    ],
)
@pytest.mark.parametrize("key", ["region_px", "lamp_px"])
def test_boxes_that_are_none(key: str, box: object) -> None:
    assert key in _refused("view", **{key: box})


def test_a_box_of_one_pixel() -> None:
    view = Outlet.model_validate({"view": {"region_px": [3, 4, 4, 5]}}).view
    assert view.region_px == (3, 4, 4, 5)


@pytest.mark.parametrize("section", ["beam", "gate"])
def test_exactly_one_height(section: str) -> None:
    assert "no height" in _refused(section)
    assert "together" in _refused(section, below_lip_mm=30, at_px=120)
    assert Outlet.model_validate({section: {"at_px": 120, "below_lip_mm": None}})


@pytest.mark.parametrize("name", ["", "Difference", "über", "a b", "a_b", "a" * 101, 4])
def test_plugin_names(name: object) -> None:
    assert "name" in _refused("detector", name=name)


@pytest.mark.parametrize(
    ("values", "found"),
    [
        ({"acceleration_mm_s2": 9.81}, "m/s²"),
        ({"kind": "free_fall", "acceleration_mm_s2": 2350}, "in free fall"),
        ({"kind": "free_fall", "acceleration_mm_s2": 10_000}, "in free fall"),
        ({"kind": "belt", "acceleration_mm_s2": 9806.65}, "on a belt"),
    ],
)
def test_accelerations_that_do_not_fit(values: dict[str, object], found: str) -> None:
    assert found in _refused("motion", **values)


@pytest.mark.parametrize(
    "values",
    [
        # Standard gravity, and its range over the Earth: about 9764 to 9834 mm/s² (from memory).
        {"kind": "free_fall", "acceleration_mm_s2": 9806.65},
        {"kind": "free_fall", "acceleration_mm_s2": 9764},
        {"kind": "free_fall", "acceleration_mm_s2": 9834},
        {"kind": "slide", "acceleration_mm_s2": 2350},
        {"kind": "slide", "acceleration_mm_s2": 0},
        {"kind": "belt", "acceleration_mm_s2": 0, "speed_mm_s": 1500},
        {"acceleration_mm_s2": 120},
    ],
)
def test_accelerations_that_fit(values: dict[str, object]) -> None:
    assert Outlet.model_validate({"motion": values})


def test_camera_times_that_do_not_fit() -> None:
    assert "global" in _refused("camera", readout="global", line_time_us=15)
    assert "exposure" in _refused("camera", capture_fps=240, exposure_us=5000)
    assert Outlet.model_validate({"camera": {"readout": "global", "line_time_us": 0}})
    assert Outlet.model_validate({"camera": {"capture_fps": 240, "exposure_us": 4166.7}})


@pytest.mark.parametrize(
    ("values", "found"),
    [
        ({"bore_mm": 9, "diameter_mm": 9}, "bore"),
        ({"overall_length_mm": 16, "diameter_mm": 7, "along_fall_mm": 160}, "diagonal"),
        (
            {"shape": "washer", "thickness_mm": 0.8, "diameter_mm": 9, "along_fall_mm": 90},
            "diagonal",
        ),
        ({"shape": "ball", "diameter_mm": 8, "along_fall_mm": 4}, "ball"),
        ({"name": ""}, "name"),
        ({"name": "two\nlines"}, "name"),
        ({"name": " M4"}, "name"),
        ({"name": "M4\u2028x"}, "name"),
        ({"name": "M4\x07"}, "name"),
        ({"name": 4}, "name"),
        ({"taught": [1]}, "taught"),
    ],
)
def test_parts_that_cannot_be(values: dict[str, object], found: str) -> None:
    assert found in _refused("part", **values)


@pytest.mark.parametrize(
    "values",
    [
        # ISO 4762 M4x12, ISO 7089 M4 and ISO 4032 M4 (sizes from memory).
        {"shape": "screw", "overall_length_mm": 16, "diameter_mm": 7, "along_fall_mm": 16},
        {"shape": "screw", "overall_length_mm": 16, "diameter_mm": 4, "along_fall_mm": 17},
        {"shape": "washer", "diameter_mm": 9, "bore_mm": 4.3, "thickness_mm": 0.8},
        {"shape": "washer", "diameter_mm": 9, "thickness_mm": 0.8, "along_fall_mm": 9},
        {"shape": "nut", "diameter_mm": 7, "thickness_mm": 3.2, "along_fall_mm": 8.08},
        {"shape": "ball", "diameter_mm": 8, "along_fall_mm": 8},
        {"shape": "screw", "overall_length_mm": 16, "diameter_mm": 7, "stack_pitch_mm": 5.5},
        {"along_fall_mm": 7.5},
        {"name": "M4\u00a0× 12"},
        {},
    ],
)
def test_parts_that_can(values: dict[str, object]) -> None:
    assert Part.model_validate(values)


def test_models_are_frozen() -> None:
    outlet = Outlet()
    with pytest.raises(ValidationError, match="frozen"):
        outlet.view.line_px = 3.0  # type: ignore[misc]


def test_defaults() -> None:
    outlet = Outlet()
    assert outlet.falls is Falls.DOWN
    assert outlet.beam is None
    assert outlet.detector.name is None
    assert given_keys(outlet) == ()


def test_given_keys_are_those_that_were_given() -> None:
    outlet = Outlet.model_validate(
        {"part": {"bore_mm": 4}, "view": {"falls": None, "line_px": 0}, "detector": {"options": {}}}
    )
    assert given_keys(outlet) == ("view.line_px", "detector.options", "part.bore_mm")
    assert given_keys(BeamSettings(at_px=0)) == ("at_px",)


@pytest.mark.parametrize(
    ("key", "unit"),
    [
        ("view.line_px", "px"),
        ("view.scale_px_per_mm", "px/mm"),
        ("motion.acceleration_mm_s2", "mm/s²"),
        ("motion.speed_mm_s", "mm/s"),
        ("motion.speed_tolerance_percent", "%"),
        ("camera.capture_fps", "frames/s"),
        ("camera.line_time_us", "µs"),
        ("beam.below_lip_mm", "mm"),
        ("motion.kind", None),
        ("detector.name", None),
    ],
)
def test_unit_of(key: str, unit: str | None) -> None:
    assert unit_of(key) == unit
