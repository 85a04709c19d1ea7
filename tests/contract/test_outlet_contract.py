"""The keys of outlet and part files are a contract: every one of them exists, and no more."""

from collections.abc import Mapping

import pytest
from pydantic import BaseModel
from taught_parts import taught_keys

from viscount.outlet import MotionKind, Outlet, Part, Readout, Shape
from viscount.values import Falls

OUTLET = {
    "view": {"scale_px_per_mm", "falls", "lip_px", "line_px", "region_px", "lamp_px"},
    "motion": {"kind", "acceleration_mm_s2", "speed_mm_s", "speed_tolerance_percent"},
    "camera": {"capture_fps", "exposure_us", "line_time_us", "readout"},
    "detector": {"name", "options"},
    "beam": {"below_lip_mm", "at_px", "width_mm", "min_pulse_us"},
    "gate": {"name", "below_lip_mm", "at_px", "options"},
    "part": {
        "name",
        "shape",
        "overall_length_mm",
        "diameter_mm",
        "thickness_mm",
        "bore_mm",
        "along_fall_mm",
        "stack_pitch_mm",
        "taught",
    },
}
EXAMPLE: Mapping[str, Mapping[str, object]] = {
    "view": {
        "scale_px_per_mm": 4,
        "falls": "left",
        "lip_px": -3.5,
        "line_px": 180,
        "region_px": [0, 0, 640, 480],
        "lamp_px": [600, 0, 620, 20],
    },
    "motion": {
        "kind": "slide",
        "acceleration_mm_s2": 4903.3,
        "speed_mm_s": 0,
        "speed_tolerance_percent": 10,
    },
    "camera": {"capture_fps": 240, "exposure_us": 100, "line_time_us": 15.5, "readout": "left"},
    "detector": {"name": "difference", "options": {"threshold": 12}},
    "beam": {"below_lip_mm": 30, "width_mm": 1, "min_pulse_us": 200},
    "gate": {"name": "serial-line", "at_px": 700, "options": {"port": "COM3"}},
    "part": {
        "name": "M4 washer",
        "shape": "washer",
        "overall_length_mm": 0.8,
        "diameter_mm": 9,
        "thickness_mm": 0.8,
        "bore_mm": 4.3,
        "along_fall_mm": 9,
        "stack_pitch_mm": 0.8,
        "taught": taught_keys(beam=True),
    },
}


def _section(name: str) -> type[BaseModel]:
    return type(getattr(Outlet.model_validate(EXAMPLE), name))


def test_the_sections_are_these_and_no_more() -> None:
    assert set(Outlet.model_fields) == set(OUTLET)


@pytest.mark.parametrize("name", OUTLET)
def test_the_keys_of_a_section_are_these_and_no_more(name: str) -> None:
    assert set(_section(name).model_fields) == OUTLET[name]


def test_a_part_file_holds_the_keys_of_the_inline_part() -> None:
    assert _section("part") is Part


@pytest.mark.parametrize("name", OUTLET)
def test_every_key_is_optional(name: str) -> None:
    pair = {"below_lip_mm": 1.0} if name in ("beam", "gate") else {}
    section = _section(name)(**pair)
    given = {key for key in OUTLET[name] if getattr(section, key) is not None}
    assert given == set(pair)


def test_every_key_takes_its_value() -> None:
    outlet = Outlet.model_validate(EXAMPLE)
    dumped = outlet.model_dump(mode="json", exclude_unset=True)
    assert dumped == EXAMPLE


@pytest.mark.parametrize(
    ("words", "allowed"),
    [
        (Falls, ["down", "up", "left", "right"]),
        (Readout, ["down", "up", "left", "right", "global"]),
        (MotionKind, ["free_fall", "slide", "belt"]),
        (Shape, ["screw", "nut", "washer", "ball", "other"]),
    ],
)
def test_words_are_these_and_no_more(words: type, allowed: list[str]) -> None:
    assert [str(word) for word in words] == allowed  # type: ignore[attr-defined]
