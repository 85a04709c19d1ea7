"""Scenes are checked when they are made."""

import pytest
from pydantic import BaseModel, ValidationError

from viscount.simulate.demo import demo_scene
from viscount.simulate.scene import (
    Ball,
    Beam,
    Belt,
    Camera,
    Column,
    Nut,
    Poisson,
    Scene,
    Screw,
    View,
    Washer,
)

BALL = {"shape": "ball", "diameter_mm": 4.0}
BELT = {"kind": "belt", "speed_mm_s": 100.0}
TIMES = {"kind": "times", "times_ms": [0.0]}


@pytest.mark.parametrize(
    ("model", "values", "words"),
    [
        (Ball, {"diameter_mm": 0.0}, "greater than 0"),
        (Ball, {"diameter_mm": 4.0, "diametre_mm": 4.0}, "Extra inputs"),
        (Ball, {"diameter_mm": float("inf")}, "finite"),
        (
            Screw,
            {
                "overall_length_mm": 4.0,
                "head_height_mm": 4.0,
                "head_diameter_mm": 7.0,
                "shank_diameter_mm": 4.0,
            },
            "head_height_mm must be below",
        ),
        (Nut, {"across_flats_mm": 7.0, "thickness_mm": 3.0, "bore_mm": 7.0}, "bore_mm"),
        (Washer, {"diameter_mm": 7.0, "thickness_mm": 3.0, "bore_mm": 8.0}, "bore_mm"),
        (Poisson, {"count": 3, "mean_interval_ms": 5.0, "least_interval_ms": 5.0}, "above least"),
        (Column, {"count": -1, "pitch_mm": 5.0, "acceleration_mm_s2": 100.0}, "greater than"),
        (Camera, {"fps": 120.0, "exposure_us": 9000.0}, "frame interval"),
        (View, {"width_px": 0}, "greater than"),
        (Beam, {"below_lip_mm": 20.0, "width_mm": 1.0, "threshold": 1.0}, "less than 1"),
        (Scene, {"parts": [], "release": TIMES}, "at least 1"),
        (Scene, {"parts": [BALL], "release": TIMES, "motion": {"kind": "orbit"}}, "orbit"),
        (
            Scene,
            {"parts": [BALL], "release": TIMES, "motion": BELT, "lip_speed_mm_s": 5.0},
            "must be 0 where a column or a belt",
        ),
        (
            Scene,
            {
                "parts": [BALL],
                "release": TIMES,
                "view": {"width_px": 100, "height_px": 500},
                "camera": {"fps": 100.0, "readout": "down", "line_time_us": 21.0},
            },
            "readout of 10500 us, longer than the frame interval of 10000",
        ),
    ],
)
def test_refused(model: type[BaseModel], values: dict[str, object], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        model(**values)


def test_readout_runs_along_one_side_of_the_picture() -> None:
    view = {"width_px": 100, "height_px": 500}
    camera = {"fps": 100.0, "readout": "left", "line_time_us": 60.0}
    Scene(parts=(Ball(**BALL),), release=TIMES, view=view, camera=camera)


def test_scene_comes_back_from_its_json() -> None:
    scene = demo_scene()
    assert Scene.model_validate_json(scene.model_dump_json()) == scene


def test_scene_is_frozen() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        demo_scene().seed = 2


def test_parts_take_turns() -> None:
    small, large = Ball(diameter_mm=3.0), Ball(diameter_mm=6.0)
    scene = Scene(parts=(small, large), release=TIMES, motion=Belt(speed_mm_s=100.0))
    assert [scene.part(k) for k in range(3)] == [small, large, small]


def test_demo_is_the_bag_it_says() -> None:
    """24 screws M4x12 of ISO 4762: 4 mm shank and head height, 7 mm head; common practice."""
    scene = demo_scene()
    assert scene.count == 24
    assert scene.part(0).overall_length_mm == 16.0
    assert scene.release.pitch_mm == scene.part(0).overall_length_mm
