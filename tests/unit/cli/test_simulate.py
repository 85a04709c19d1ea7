"""``viscount simulate``: what it writes, what it says, and what it refuses."""

import json
from pathlib import Path

import jsonschema
import pytest
from commands import FIXTURES, call

from viscount.outlet import load_outlet
from viscount.simulate.scene import load_scene
from viscount.simulate.truth import truth_schema

SCENE = """
name: three nuts
about: They fall.
parts: [{standard: ISO 4032 M4}]
release: {kind: escapement, count: 3, interval_ms: 40.0}
lip_speed_mm_s: 800.0
view: {width_px: 64, height_px: 160, lip_px: -20.0, line_px: 80.0}
camera: {fps: 120.0}
beam: {below_lip_mm: 10.0, width_mm: 1.0}
"""


@pytest.fixture
def scene_file(tmp_path: Path) -> Path:
    file = tmp_path / "scene.yaml"
    file.write_text(SCENE, encoding="utf-8")
    return file


def test_it_writes_a_pour_and_says_what_truly_happened(scene_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "pour"
    answer = call("simulate", scene_file, "--out", out)
    assert (answer.status, answer.err) == (0, "")
    assert "three nuts: They fall." in answer.out
    assert "3 of 3 parts cross the line" in answer.out
    assert "yes: its parts can be told apart by the picture alone" in answer.out
    names = {"clip.mp4", "truth.json", "outlet.yaml", "scene.yaml", "beam.csv", "SHA256SUMS"}
    assert {path.name for path in out.iterdir()} == names
    truth = json.loads((out / "truth.json").read_text(encoding="utf-8"))
    jsonschema.validate(truth, truth_schema())
    assert load_outlet(out / "outlet.yaml").view.line_px == 80.0
    assert load_scene(out / "scene.yaml") == load_scene(scene_file)


def test_the_same_scene_gives_the_same_files(scene_file: Path, tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert call("simulate", scene_file, "--out", tmp_path / name).status == 0
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


def test_a_seed_stands_over_the_scenes_own(scene_file: Path, tmp_path: Path) -> None:
    for seed in (7, 8):
        call("simulate", scene_file, "--out", tmp_path / str(seed), "--seed", seed)
    assert load_scene(tmp_path / "7" / "scene.yaml").seed == 7
    clips = [(tmp_path / name / "clip.mp4").read_bytes() for name in ("7", "8")]
    assert clips[0] != clips[1]


def test_what_counts_it_counts_it_right(scene_file: Path, tmp_path: Path) -> None:
    call("simulate", scene_file, "--out", tmp_path / "pour")
    outlet = tmp_path / "pour" / "outlet.yaml"
    answer = call("count", tmp_path / "pour" / "clip.mp4", "--outlet", outlet, "--json")
    assert json.loads(answer.out)["count"] == 3


def test_a_space_is_drawn_from(tmp_path: Path) -> None:
    space = tmp_path / "space.yaml"
    space.write_text(SCENE.replace("count: 3", "count: {whole: [1, 2]}"), encoding="utf-8")
    answer = call("simulate", space, "--draw", 5, "--out", tmp_path / "drawn")
    assert answer.status == 0
    assert "three nuts 5" in answer.out


def test_scene_files_have_a_schema() -> None:
    schema = json.loads(call("simulate", "--schema").out)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert "release" in schema["required"]


def test_files_of_others_are_left_alone(scene_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "pour"
    out.mkdir()
    (out / "clip.mp4").write_text("mine", encoding="utf-8")
    answer = call("simulate", scene_file, "--out", out)
    assert answer.status == 2
    assert "clip.mp4 there: not as it was written" in answer.err
    assert (out / "clip.mp4").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ((), "a scene file and a folder for the result are needed"),
        (("none.yaml", "--out", "x"), "there is no such file"),
        ((FIXTURES / "scene_space.yaml", "--out", "x"), "release"),
        ((FIXTURES / "scene_space.yaml", "--out", "x", "--draw", 1, "--seed", 1), "together"),
    ],
)
def test_bad_calls_are_told_in_words(
    words: tuple[object, ...], complaint: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    answer = call("simulate", *words)
    assert answer.status == 2
    assert complaint in answer.err
    assert "Traceback" not in answer.err
    assert list(tmp_path.iterdir()) == []


def test_a_scene_in_which_nothing_can_fall_is_told_in_words(
    scene_file: Path, tmp_path: Path
) -> None:
    stuck = scene_file.read_text(encoding="utf-8").replace(
        "lip_speed_mm_s: 800.0", "motion: {kind: slide, incline_deg: 1.0, friction: 1.0}"
    )
    scene_file.write_text(stuck, encoding="utf-8")
    answer = call("simulate", scene_file, "--out", tmp_path / "pour")
    assert answer.status == 2
    assert "motion" in answer.err
