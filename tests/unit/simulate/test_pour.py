"""Whole pours: their frames, and their files."""

import json
from collections.abc import Callable
from pathlib import Path

import av
import numpy as np
import pytest
from scenes import field_scene

from viscount.errors import UsageError
from viscount.outlet import load_outlet
from viscount.simulate.demo import demo_scene
from viscount.simulate.outlet_file import outlet_text
from viscount.simulate.pour import scene_text, simulate, write_pour
from viscount.simulate.scene import (
    Ball,
    Beam,
    Belt,
    Box,
    Camera,
    Escapement,
    FreeFall,
    Motion,
    Nut,
    Part,
    Recording,
    Scene,
    Slide,
    Turning,
    View,
    Washer,
    load_scene,
)

READY = Path(__file__).parents[3] / "fixtures" / "scenes"
SMALL = Scene(
    parts=(Ball(diameter_mm=4.0),),
    release=Escapement(count=2, interval_ms=40.0),
    lip_speed_mm_s=800.0,
    view=View(width_px=48, height_px=80, lip_px=-20.0, line_px=40.0),
    camera=Camera(blur_px=0.5),
    lead_in_s=0.05,
    tail_s=0.05,
)


def test_times_are_those_of_a_steady_camera() -> None:
    times = [t for t, _ in simulate(SMALL).frames()]
    assert times == [round(k / 120 * 1e9) for k in range(len(times))]


def test_clip_lasts_until_the_last_part_has_left() -> None:
    pour = simulate(SMALL)
    seen = [bool(frame.seen) for frame in pour.truth.frames]
    assert True in seen
    assert not any(seen[-6:])
    assert not any(seen[:6])
    assert len(seen) < 60


def test_empty_scene_is_its_lead_in_and_tail() -> None:
    pour = simulate(SMALL.model_copy(update={"release": Escapement(count=0, interval_ms=9.0)}))
    assert len(list(pour.frames())) == 13
    assert pour.truth.parts == ()


def test_files(tmp_path: Path) -> None:
    scene = demo_scene().model_copy(update={"lead_in_s": 0.0, "duration_s": 0.25})
    pour = simulate(scene)
    scene = scene.model_copy(update={"recording": Recording(codec="ffv1")})
    written = write_pour(scene, tmp_path / "pour")
    assert sorted(p.name for p in (tmp_path / "pour").iterdir()) == [
        "beam.csv",
        "clip.mp4",
        "outlet.yaml",
        "scene.yaml",
        "truth.json",
    ]
    assert load_scene(written.scene) == scene
    with av.open(str(written.clip)) as container:
        decoded = [(f.time, f.to_ndarray(format="gray")) for f in container.decode(video=0)]
    drawn = list(pour.frames())
    assert len(decoded) == len(drawn)
    for (time_s, got), (t_ns, pixels) in zip(decoded, drawn, strict=True):
        assert time_s == pytest.approx(t_ns * 1e-9, abs=1e-6)
        np.testing.assert_array_equal(got, pixels)
    assert json.loads(written.truth.read_text(encoding="utf-8")) == json.loads(pour.truth.to_json())
    assert written.beam is not None
    log = written.beam.read_text(encoding="utf-8").splitlines()
    assert len(log) == len(pour.edges) + 3
    assert len(pour.edges) > 2
    assert log[-1].startswith("# end 0.6")


def test_no_beam_no_log(tmp_path: Path) -> None:
    written = write_pour(SMALL, tmp_path)
    assert written.beam is None
    assert not (tmp_path / "beam.csv").exists()


def test_failure_leaves_no_files(tmp_path: Path) -> None:
    with pytest.raises(UsageError):
        write_pour(
            SMALL.model_copy(update={"motion": Slide(incline_deg=1.0, friction=1.0)}), tmp_path
        )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("step", range(12))
def test_a_kill_leaves_no_mixture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: int
) -> None:
    """Stopped at any change of a name: with a truth there, the set is one of the two whole ones."""
    old = SMALL.model_copy(update={"beam": Beam(below_lip_mm=10.0, width_mm=1.0)})
    new = SMALL.model_copy(update={"seed": 2})
    write_pour(new, tmp_path / "new")
    whole = [_contents(tmp_path / "new")]
    write_pour(old, tmp_path / "pour")
    whole.append(_contents(tmp_path / "pour"))
    left = step

    def counted(method: Callable[..., object]) -> Callable[..., object]:
        def step_by_step(path: Path, *args: object, **more: object) -> object:
            nonlocal left
            if path.parent == tmp_path / "pour" or path.parent.parent == tmp_path / "pour":
                left -= 1
                if left < 0:
                    raise KeyboardInterrupt
            return method(path, *args, **more)

        return step_by_step

    monkeypatch.setattr(Path, "replace", counted(Path.replace))
    monkeypatch.setattr(Path, "unlink", counted(Path.unlink))
    try:
        write_pour(new, tmp_path / "pour")
        ended = True
    except KeyboardInterrupt:
        ended = False
    found = _contents(tmp_path / "pour")
    assert ended is (step >= 8)
    assert "truth.json" not in found or found in whole
    assert not ended or found == whole[0]


def _contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


@pytest.mark.parametrize("file", sorted(READY.glob("*.yaml")), ids=lambda f: f.stem)
def test_a_scene_that_is_written_loads_as_an_equal_one(tmp_path: Path, file: Path) -> None:
    scene = load_scene(file)
    (tmp_path / "scene.yaml").write_text(scene_text(scene), encoding="utf-8")
    assert load_scene(tmp_path / "scene.yaml") == scene


@pytest.mark.parametrize("file", sorted(READY.glob("*.yaml")), ids=lambda f: f.stem)
def test_the_outlet_file_of_a_scene_tells_where_things_are(tmp_path: Path, file: Path) -> None:
    scene = load_scene(file)
    (tmp_path / "outlet.yaml").write_text(outlet_text(scene), encoding="utf-8")
    outlet = load_outlet(tmp_path / "outlet.yaml")
    slowed = scene.recording.slowed != 1
    assert outlet.camera.capture_fps == (scene.camera.fps if slowed else None)
    gate, beam = scene.gate, scene.beam
    assert (outlet.gate and outlet.gate.below_lip_mm) == (gate and gate.below_lip_mm)
    assert (outlet.beam and outlet.beam.below_lip_mm) == (beam and beam.below_lip_mm)


PARTS = [
    Washer(diameter_mm=9.0, bore_mm=4.3, thickness_mm=0.8),
    Nut(across_flats_mm=7.0, thickness_mm=3.2, bore_mm=4.0),
    Ball(diameter_mm=5.0),
    Box(along_mm=8.0, across_mm=4.0),
]
MOTIONS = [FreeFall(), Slide(incline_deg=40.0, friction=0.3), Belt(speed_mm_s=900.0)]


@pytest.mark.parametrize("part", PARTS, ids=lambda p: p.shape)
@pytest.mark.parametrize("motion", MOTIONS, ids=lambda m: m.kind)
def test_outlet_file_is_one_the_reader_takes(tmp_path: Path, part: Part, motion: Motion) -> None:
    scene = SMALL.model_copy(update={"parts": (part,), "motion": motion, "lip_speed_mm_s": 0.0})
    path = tmp_path / "outlet.yaml"
    path.write_text(outlet_text(scene), encoding="utf-8")
    outlet = load_outlet(path)
    assert outlet.view.line_px == 40.0
    assert outlet.motion.kind == motion.kind


def test_outlet_file_of_a_global_shutter_has_no_line_time(tmp_path: Path) -> None:
    camera = Camera(readout="global", line_time_us=30.0)
    path = tmp_path / "outlet.yaml"
    path.write_text(outlet_text(SMALL.model_copy(update={"camera": camera})), encoding="utf-8")
    assert load_outlet(path).camera.line_time_us == 0.0


def test_outlet_file_of_the_demo(tmp_path: Path) -> None:
    path = tmp_path / "outlet.yaml"
    path.write_text(outlet_text(demo_scene()), encoding="utf-8")
    outlet = load_outlet(path)
    assert outlet.part.overall_length_mm == 16.0
    assert outlet.part.along_fall_mm == 16.0
    assert outlet.part.stack_pitch_mm == 16.0
    # A column's speed at the lip changes along the pour.
    assert outlet.motion.speed_mm_s is None
    assert outlet.beam.below_lip_mm == 20.0


def test_outlet_file_of_a_part_turned_across(tmp_path: Path) -> None:
    scene = demo_scene().model_copy(update={"turning": Turning(angle_deg=90.0)})
    path = tmp_path / "outlet.yaml"
    path.write_text(outlet_text(scene), encoding="utf-8")
    assert load_outlet(path).part.along_fall_mm == 7.0


def test_house_scene_is_drawn_as_described() -> None:
    """60 empty frames of 100 +- 2; then parts of 16 x 32 px and grey 40, two a frame at most."""
    shot = field_scene(parts=3)
    empty = np.array([f.pixels for f in shot.frames[:60]])
    assert empty.shape == (60, 160, 120)
    assert empty.mean() == pytest.approx(100.0, abs=0.05)
    assert empty.min() > 80
    first = next(f for f, t in zip(shot.frames, shot.truth.frames, strict=True) if t.seen)
    assert first.index == 60
    whole = next(
        f.pixels
        for f, t in zip(shot.frames, shot.truth.frames, strict=True)
        if [s.whole for s in t.seen] == [True]
    )
    dark = whole < 70
    assert dark.sum() == pytest.approx(16 * 32, abs=16)
    assert whole[dark].mean() == pytest.approx(40.0, abs=1.5)
    assert not shot.frames[0].pixels.flags.writeable
