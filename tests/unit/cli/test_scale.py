"""``viscount scale`` from files to figures, and into the outlet file."""

import json
from itertools import islice
from pathlib import Path

import cv2
import numpy as np
import pytest
from commands import call
from scaled_pours import falling

from viscount.devices.cameras.clocked import Clocked
from viscount.devices.cameras.source import open_source
from viscount.outlet import load_outlet
from viscount.simulate.pour import write_pour


@pytest.fixture(scope="module")
def pour(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Eight balls, seen by a sensor that is read across the fall under flickering light."""
    folder = tmp_path_factory.mktemp("balls")
    camera = {"readout": "right", "line_time_us": 60.0}
    write_pour(falling(camera=camera, light={"flicker_percent": 5.0, "flicker_hz": 100.0}), folder)
    return folder


@pytest.fixture
def outlet(pour: Path, tmp_path: Path) -> Path:
    """The pour's outlet file with remarks and without a scale."""
    lines = (pour / "outlet.yaml").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if "scale_px_per_mm" not in line]
    path = tmp_path / "outlet.yaml"
    path.write_text("\n".join(["# Mine.", *kept, "# End."]) + "\n", encoding="utf-8")
    return path


def ruler(path: Path) -> Path:
    """A picture of a ruler with a tick each 3 px."""
    down = np.where(np.arange(300 * 4) / 4 % 3.0 < 0.8, 40.0, 220.0).reshape(300, 4).mean(axis=1)
    picture = np.repeat(down[:, None], 64, axis=1) + np.random.default_rng(1).normal(size=(300, 64))
    cv2.imwrite(str(path), picture.clip(0, 255).astype(np.uint8))
    return path


def test_gravity_part_and_bands_together(pour: Path, outlet: Path) -> None:
    told = call("scale", pour / "clip.mp4", "--outlet", outlet, "--json")
    assert (told.status, told.err) == (0, "")
    answer = json.loads(told.out)
    assert answer["schema"] == "viscount.scale/1"
    assert answer["status"] == "clean"
    assert [way["by"] for way in answer["ways"]] == ["gravity", "part"]
    scale = answer["scale_px_per_mm"]
    assert abs(scale["value"] - 3.0) < 1.5 * scale["expanded_95"] < 0.1
    line = answer["line_time_us"]
    assert line["value"] == pytest.approx(60.0, rel=0.01)
    assert answer["readout"] == "right"
    assert answer["before"] == {"scale_px_per_mm": None, "line_time_us": 60.0}
    assert answer["written"] == []
    assert {reason["level"] for reason in answer["reasons"]} == {"info"}
    assert all(i["u"] >= 0 for way in answer["ways"] for i in way["inputs"])


def test_it_is_a_table_for_people(pour: Path, outlet: Path) -> None:
    told = call("scale", pour / "clip.mp4", "--outlet", outlet, on_terminal=True)
    head = told.out.splitlines()[0]
    assert "px/mm along the fall" in head
    assert "us a line: clean" in head
    assert "what dominates" in told.out
    assert "together" in told.out


def test_it_sets_what_it_found_and_nothing_else(pour: Path, outlet: Path) -> None:
    before, old = load_outlet(outlet), outlet.read_text(encoding="utf-8")
    told = call("scale", pour / "clip.mp4", "--outlet", outlet, "--write", "--json")
    assert told.status == 0
    answer = json.loads(told.out)
    (scale, line) = answer["written"]
    assert (scale["key"], scale["before"]) == ("view.scale_px_per_mm", None)
    assert line["before"] == 60.0
    after, new = load_outlet(outlet), outlet.read_text(encoding="utf-8")
    assert after.view.scale_px_per_mm == scale["now"]
    assert after.camera.line_time_us == line["now"] == pytest.approx(60.0, rel=0.01)
    view = before.view.model_copy(update={"scale_px_per_mm": scale["now"]})
    camera = before.camera.model_copy(update={"line_time_us": line["now"]})
    assert after == before.model_copy(update={"view": view, "camera": camera})
    kept = [row for row in old.splitlines() if "line_time_us" not in row]
    assert [row for row in new.splitlines() if row in kept] == kept
    assert [path.name for path in outlet.parent.iterdir()] == ["outlet.yaml"]


def test_a_doubtful_scale_is_written_by_force_only(pour: Path, outlet: Path) -> None:
    old = outlet.read_bytes()
    words = ("scale", pour / "clip.mp4", "--outlet", outlet, "--set", "motion.kind=null", "--write")
    told = call(*words)
    assert told.status == 10
    assert "not written" in told.out
    assert outlet.read_bytes() == old
    assert call(*words, "--force").status == 10
    assert load_outlet(outlet).view.scale_px_per_mm == pytest.approx(3.0, rel=0.03)


def test_a_ruler_agrees_and_a_wrong_one_does_not(pour: Path, outlet: Path, tmp_path: Path) -> None:
    picture = ruler(tmp_path / "ruler.png")
    both = call("scale", pour / "clip.mp4", picture, "--ruler-mm", 1, "--outlet", outlet, "--json")
    assert both.status == 0
    assert [w["by"] for w in json.loads(both.out)["ways"]] == ["gravity", "part", "ruler"]
    wrong = ("--ruler-mm", 1.27, "--outlet", outlet, "--write", "--json")
    apart = call("scale", pour / "clip.mp4", picture, *wrong)
    answer = json.loads(apart.out)
    assert apart.status == 10
    assert answer["scale_px_per_mm"] is None
    assert answer["written"] == [] or answer["written"][0]["key"] == "camera.line_time_us"
    assert "scales_disagree" in {reason["code"] for reason in answer["reasons"]}
    assert load_outlet(outlet).view.scale_px_per_mm is None


def test_a_picture_without_its_ruler(tmp_path: Path) -> None:
    blank = tmp_path / "blank.png"
    cv2.imwrite(str(blank), np.full((200, 64), 120, np.uint8))
    told = call("scale", blank, "--ruler-mm", 1)
    assert told.status == 12
    assert told.out.startswith("no scale: invalid")


def test_pictures_of_another_size_are_refused(pour: Path, tmp_path: Path) -> None:
    small = tmp_path / "small.png"
    cv2.imwrite(str(small), np.full((150, 32), 120, np.uint8))
    told = call("scale", pour / "clip.mp4", small, "--ruler-mm", 1)
    assert told.status == 2
    assert "pictures of different sizes" in told.err
    assert "32x150 px" in told.err


def test_pictures_without_times_tell_no_gravity(pour: Path, tmp_path: Path) -> None:
    folder = tmp_path / "pictures"
    folder.mkdir()
    for k in range(12):
        picture = np.full((120, 48), 200, np.uint8)
        picture[8 * k : 8 * k + 12, 18:30] = 40
        cv2.imwrite(str(folder / f"{k:03}.png"), picture)
    told = call("scale", folder, "--by", "gravity", "--set", "motion.kind=free_fall", "--json")
    answer = json.loads(told.out)
    assert told.status == 12
    assert answer["ways"][0]["value"] is None
    assert "clock_assumed" in {reason["code"] for reason in answer["reasons"]}
    invalid = [reason for reason in answer["reasons"] if reason["level"] == "invalid"]
    assert "nothing tells when these pictures were taken" in str(invalid)


def test_falling_parts_in_pictures_without_times_tell_no_gravity(
    pour: Path, tmp_path: Path
) -> None:
    """They fall as evenly as any, 80 frames a second, and nobody knows that."""
    folder = tmp_path / "pictures"
    folder.mkdir()
    with open_source(pour / "clip.mp4", capture_fps=None) as camera:
        for frame in islice(Clocked(camera).opened(1)[1], 0, None, 2):
            cv2.imwrite(str(folder / f"{frame.index:04}.png"), frame.pixels)
    words = ("scale", folder, "--by", "gravity", "--set", "motion.kind=free_fall", "--json")
    answer = json.loads(call(*words).out)
    assert answer["ways"][0]["value"] is None
    assert (answer["status"], answer["scale_px_per_mm"]) == ("invalid", None)
    assert "nothing tells when these pictures were taken" in str(answer["reasons"])
    timed = json.loads(call(*words, "--set", "camera.capture_fps=80").out)
    assert timed["ways"][0]["value"] == pytest.approx(3.0, rel=0.03)


def test_a_sensor_and_its_mode(pour: Path) -> None:
    words = ("scale", pour / "clip.mp4", "--by", "sensor", "--sensor", "imx219", "--json")
    told = call(*words, "--mode", "1640x1232")
    (way,) = json.loads(told.out)["line_time_ways"]
    # 1232 rows of 18.9035 us over 64 lines: the clip is higher than broad, the mode is not.
    assert way["value"] == pytest.approx(18.9035 * 1232 / 64, rel=1e-4)
    assert "imx219.c" in way["source"]
    unknown = call(*words)
    assert unknown.status == 2
    assert "--mode, one of 3280x2464" in unknown.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--by", "eye"), "the way 'eye'"),
        (("--by", "ruler"), "--ruler-mm, from tick to tick"),
        (("--by", "part"), "no part of known size"),
        (("--by", "sensor"), "--sensor with one of IMX219"),
        (("--sensor", "ABC1"), "the sensor 'ABC1'"),
        (("--ruler-mm", 0), "more than 0"),
        (("--checkerboard", "5x8"), "no --square-mm"),
        (("--square-mm", 5), "no --checkerboard"),
        (("--checkerboard", "5by8", "--square-mm", 5), "COLSxROWS"),
        (("--checkerboard", "2x8", "--square-mm", 5), "3 to 100"),
        (("--frames", "9:3"), "the first before the last"),
        (("--frames", "90000:90001"), "no frame from 90000"),
        (("--gravity-mm-s2", 9.81), "more than 9700"),
        (("--tilt-deg", -1), "0 to 30"),
        (("--light-hz", 0), "more than 1"),
        (("--write",), "--outlet FILE to write into"),
        (("--set", "motion.kind=belt", "--by", "gravity"), "parts that ride on a belt"),
    ],
)
def test_calls_that_make_no_sense(pour: Path, words: tuple[object, ...], said: str) -> None:
    told = call("scale", pour / "clip.mp4", *words)
    assert told.status == 2
    assert said in told.err
    assert told.out == ""


def test_a_file_that_is_no_clip(tmp_path: Path) -> None:
    path = tmp_path / "x.mp4"
    path.write_bytes(b"nothing")
    assert call("scale", path).status == 2


def by_gravity(pour: Path, outlet: Path, *more: object) -> tuple[float, dict[str, float]]:
    """Return the scale by gravity, and the share of it that each input adds."""
    told = call("scale", pour / "clip.mp4", "--outlet", outlet, "--by", "gravity", *more, "--json")
    (way,) = json.loads(told.out)["ways"]
    return way["value"], {one["name"]: one["u"] / way["value"] for one in way["inputs"]}


def test_what_is_stated_of_place_camera_and_clock_goes_into_the_budget(
    pour: Path, outlet: Path
) -> None:
    value, inputs = by_gravity(pour, outlet)
    root = 3.0**0.5
    assert inputs["local gravity"] == pytest.approx(0.003 / root, rel=1e-4)
    assert inputs["clock"] == pytest.approx(2e-4 / root, rel=1e-4)
    assert inputs["line time"] == 0.0

    there, placed = by_gravity(pour, outlet, "--gravity-mm-s2", 9780)
    assert there / value == pytest.approx(9806.65 / 9780, rel=1e-4)
    assert placed["local gravity"] == pytest.approx(1e-4 / root, rel=1e-4)

    _, clocked = by_gravity(pour, outlet, "--set", "camera.capture_fps=160")
    assert clocked["clock"] == pytest.approx(2e-3 / root, rel=1e-4)

    read_down = ("--set", "camera.readout=down", "--set", "camera.line_time_us=20")
    along, read = by_gravity(pour, outlet, *read_down)
    assert 0.0005 < read["line time"] < 0.003
    # Lines of 20 us along a fall of some 1,800 px/s: the acceleration seems 1 / (1 - v T)³ times.
    assert along / value == pytest.approx((1 - 20e-6 * 1850) ** 3, abs=0.03)
