"""An even stream, of which each part stands nearly where the one before it stood a frame ago."""

import json
from pathlib import Path

import pytest
from commands import call
from scaled_pours import falling

from viscount.outlet import load_outlet
from viscount.simulate.pour import write_pour


@pytest.fixture(scope="module")
def stream(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ninety balls, 8 ms apart, at 120 frames a second: 2 px or 55 px from frame to frame."""
    folder = tmp_path_factory.mktemp("even")
    release = {"kind": "escapement", "count": 90, "interval_ms": 8.0, "jitter_ms": 0.0}
    scene = falling(
        part={"shape": "ball", "diameter_mm": 2.5},
        release=release,
        lip_speed_mm_s=2000.0,
        camera={"fps": 120.0, "exposure_us": 50.0},
        view={"height_px": 240, "line_px": 120.0},
    )
    write_pour(scene, folder)
    lines = (folder / "outlet.yaml").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if "scale_px_per_mm" not in line]
    (folder / "outlet.yaml").write_text("\n".join([*kept, ""]), encoding="utf-8")
    return folder


def test_gravity_tells_no_scale_of_a_stream_with_several_speeds(stream: Path) -> None:
    words = ("scale", stream / "clip.mp4", "--outlet", stream / "outlet.yaml", "--by", "gravity")
    told = call(*words, "--json")
    answer = json.loads(told.out)
    assert (told.status, answer["status"]) == (12, "invalid")
    assert answer["scale_px_per_mm"] is None
    (way,) = answer["ways"]
    assert way["value"] is None
    said = {reason["code"]: reason for reason in answer["reasons"]}
    assert said["speed_ambiguous"]["level"] == "doubt"
    assert "px/s at the line explain the stream equally well" in said["speed_ambiguous"]["text"]


def test_nothing_is_written_and_people_are_told_why(stream: Path) -> None:
    outlet = stream / "outlet.yaml"
    told = call("scale", stream / "clip.mp4", "--outlet", outlet, "--by", "gravity", "--write")
    assert told.status == 12
    assert "explain the stream equally well" in " ".join(told.out.split())
    assert "record the stream's start" in " ".join(told.out.split())
    assert load_outlet(outlet).view.scale_px_per_mm is None
