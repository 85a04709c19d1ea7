"""The ready scenes in fixtures/scenes: what they span."""

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from pydantic import BaseModel

from viscount.simulate import scene as scene_room
from viscount.simulate.barrier import BoardTruth
from viscount.simulate.physics import overlapping
from viscount.simulate.pour import simulate
from viscount.simulate.scene import (
    Bored,
    Faults,
    LampInView,
    Lanes,
    Light,
    Recording,
    Scene,
    Surroundings,
    Times,
    Turning,
    load_scene,
)

FOLDER = Path(__file__).parents[3] / "fixtures" / "scenes"
FILES = sorted(FOLDER.glob("*.yaml"))


@pytest.fixture(scope="module")
def scenes() -> list[Scene]:
    return [load_scene(file) for file in FILES]


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_each_says_what_it_is_there_to_show(file: Path) -> None:
    scene = load_scene(file)
    assert scene.name == file.stem
    assert len(scene.about) > 10


def test_they_are_many_and_span_what_outlets_give(scenes: list[Scene]) -> None:
    assert len(scenes) >= 40
    rates = [s.camera.fps for s in scenes]
    assert (min(rates), max(rates)) <= (30.0, 240.0)
    assert max(rates) == 240.0
    lines = {s.camera.line_time_us for s in scenes}
    assert 0.0 in lines
    assert 60.0 in lines
    assert {s.camera.readout for s in scenes} == {"down", "up", "right", "global"}
    assert len({s.seed for s in scenes}) == len(scenes)


def test_every_kind_of_thing_is_in_some_scene(scenes: list[Scene]) -> None:
    met = {type(model) for scene in scenes for model in _models(scene)}
    there = {
        kind
        for kind in vars(scene_room).values()
        if isinstance(kind, type)
        and issubclass(kind, BaseModel)
        and kind not in (Bored, LampInView)
    }
    assert there - met == set()


@pytest.mark.parametrize("kind", [Scene, Faults, Recording, Light, Surroundings, Turning])
def test_every_fault_is_in_some_scene(scenes: list[Scene], kind: type[BaseModel]) -> None:
    met = {
        field
        for scene in scenes
        for model in _models(scene)
        if type(model) is kind
        for field in model.model_fields_set
    }
    steady = {"roll_deg", "spin_deg_s", "tilt_deg", "tumble_deg_s", "twist_deg_s"}
    assert set(kind.model_fields) - met - steady == set()


def _models(value: object) -> Iterator[BaseModel]:
    if isinstance(value, BaseModel):
        yield value
        for field in type(value).model_fields:
            yield from _models(getattr(value, field))
    elif isinstance(value, tuple):
        for inner in value:
            yield from _models(inner)


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_parts_do_not_run_through_one_another(file: Path) -> None:
    scene = load_scene(file)
    assert overlapping(scene) == []


def test_overlapping_parts_are_found() -> None:
    scene = load_scene(FOLDER / "plain.yaml")
    close = scene.model_copy(update={"release": Times(times_ms=(0.0, 20.0, 80.0))})
    assert overlapping(close) == [(0, 1)]
    beside = close.model_copy(update={"lanes": Lanes(positions_mm=(0.0, 8.0))})
    assert overlapping(beside) == []


def test_displacement_per_spacing_goes_from_a_tenth_to_five(scenes: list[Scene]) -> None:
    """Displacement between frames over spacing is the frame interval over the parts' interval."""
    ratios = [
        1e3 / s.camera.fps / s.release.interval_ms for s in scenes if s.release.kind == "escapement"
    ]
    assert np.min(ratios) <= 0.1
    assert np.max(ratios) == pytest.approx(5.0, rel=0.01)


@pytest.mark.parametrize(
    ("name", "shows"),
    [
        ("beam-agrees", lambda truth: truth.pulses == 15),
        ("beam-chatters", lambda truth: truth.bounces > 3),
        ("beam-merges", lambda truth: truth.pulses == 8),
        ("beam-misses", lambda truth: truth.missed_pulses > 0),
        ("beam-off-centre", lambda truth: 0 < truth.pulses < 15),
        ("beam-overflows", lambda truth: truth.lost_edges > 0),
        ("beam-restarts", lambda truth: truth.restarts == 1),
        ("washers-through-spot", lambda truth: 15 < truth.pulses < 30),
    ],
)
def test_beams_do_what_their_scenes_say(name: str, shows: Callable[[BoardTruth], bool]) -> None:
    assert shows(simulate(load_scene(FOLDER / f"{name}.yaml")).watched.board)
