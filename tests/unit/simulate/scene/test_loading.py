"""Scene files: what loads, and what is refused in which words."""

from pathlib import Path

import pytest

from viscount.errors import SceneError
from viscount.simulate.scene import Column, Nut, Screw, load_scene

GOOD = """
parts:
  - {standard: ISO 4762 M4x12, name: our screw}
  - {standard: ISO 4032 M4, pose: edge}
release: {kind: column, count: 3, pitch_mm: 16, acceleration_mm_s2: 2500}
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "scene.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_standard_parts_bring_their_dimensions(tmp_path: Path) -> None:
    scene = load_scene(written(tmp_path, GOOD))
    screw, nut = scene.parts
    assert isinstance(screw, Screw)
    assert (screw.name, screw.overall_length_mm, screw.head_diameter_mm) == ("our screw", 16.0, 7.0)
    assert isinstance(nut, Nut)
    assert (nut.pose, nut.across_flats_mm, nut.thickness_mm) == ("edge", 7.0, 3.2)
    assert scene.release == Column(count=3, pitch_mm=16.0, acceleration_mm_s2=2500.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GOOD.replace("count: 3", "count: -3"), ("scene.yaml:5: release.count", "-3")),
        (GOOD.replace("count: 3, ", ""), ("release.count", "required")),
        (GOOD + "lip_speed_mm_s: 3.0\n", ("lip_speed_mm_s must be 0",)),
        (
            GOOD + "camera: {fps: 120, shutter: 3}\n",
            ("scene.yaml:6: camera.shutter", "not permitted"),
        ),
        (GOOD + "bound: true\ncamera: {line_time_us: 9, readout: up}\n", ("global shutter",)),
        (GOOD + "stuck: [{part: 3, below_lip_mm: 9, for_ms: 9}]\n", ("part 3", "of 3 parts")),
        (GOOD.replace("ISO 4032 M4", "ISO 4032 M7"), ("parts[1]", "has no M7")),
        (GOOD.replace("ISO 4032 M4", "ISO 4032 M4x3"), ("which only screws have",)),
        (GOOD.replace("ISO 4032 M4", "ISO 4035 M4"), ("not known here; there are ISO 4762",)),
        (GOOD.replace("ISO 4762 M4x12", "ISO 4762 M4"), ("needs a length",)),
        (GOOD.replace("ISO 4762 M4x12", "M4 screw"), ("no designation",)),
        ("parts: [\n", ("scene.yaml",)),
        ("- 1\n", ("no keys and values", "release")),
    ],
)
def test_mistakes_are_named_with_their_place(
    tmp_path: Path, text: str, words: tuple[str, ...]
) -> None:
    with pytest.raises(SceneError) as caught:
        load_scene(written(tmp_path, text))
    for word in words:
        assert word in str(caught.value)


def test_two_mistakes_are_told_together(tmp_path: Path) -> None:
    text = GOOD.replace("count: 3", "count: -3") + "seed: -1\n"
    with pytest.raises(SceneError, match="2 mistakes") as caught:
        load_scene(written(tmp_path, text))
    assert "release.count" in str(caught.value)
    assert "seed" in str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(SceneError, match="no such file"):
        load_scene(tmp_path / "none.yaml")
    with pytest.raises(SceneError, match="cannot be read"):
        load_scene(tmp_path)
    (tmp_path / "latin.yaml").write_bytes(b"name: \xe9\n")
    with pytest.raises(SceneError, match="not UTF-8"):
        load_scene(tmp_path / "latin.yaml")
    (tmp_path / "big.yaml").write_bytes(b"#" * 300_000)
    with pytest.raises(SceneError, match="larger than"):
        load_scene(tmp_path / "big.yaml")
