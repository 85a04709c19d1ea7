"""The demo: its files, its words, its status, and what it may write over."""

import json
import re
import subprocess
from dataclasses import replace
from pathlib import Path

import cv2
import pytest
from commands import Answer, call
from tallies import tally, true_tally

from viscount.cli.comparison import compared
from viscount.cli.own_folder import SUMS, OwnFolder
from viscount.clips.reader import ClipReader
from viscount.errors import UsageError
from viscount.outlet import load_outlet
from viscount.simulate.demo import demo_scene
from viscount.simulate.pour import Written, simulate
from viscount.values import Direction

FILES = {
    "clip.mp4",
    "beam.csv",
    "outlet.yaml",
    "scene.yaml",
    "truth.json",
    "tally.json",
    "strip.png",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo") / "inner" / "demo"


@pytest.fixture(scope="module")
def answer(folder: Path) -> Answer:
    return call("demo", "--out", folder)


def test_it_counts_what_truly_fell(answer: Answer) -> None:
    assert "truth     24 parts crossed the line\n" in answer.out
    assert "counted   24 parts: the same\n" in answer.out
    assert "\n24 parts through the line: " in answer.out


def test_the_first_thing_a_user_sees_is_clean(answer: Answer) -> None:
    assert answer.status == 0
    assert "\n24 parts through the line: clean\n" in answer.out
    (worst_ms,) = re.findall(r"ms rms, ([0-9.]+) ms at worst", answer.out)
    assert float(worst_ms) < 0.05


def test_its_status_is_that_of_its_tally(answer: Answer, folder: Path) -> None:
    found = json.loads((folder / "tally.json").read_text(encoding="utf-8"))
    assert found["count"] == 24
    assert answer.status == {"clean": 0, "doubtful": 10, "invalid": 12}[found["status"]]


def test_it_pairs_the_clip_with_the_beam_log(answer: Answer, folder: Path) -> None:
    found = json.loads((folder / "tally.json").read_text(encoding="utf-8"))
    assert found["agreement"]["agreed"] == 24
    assert "both      24 parts seen by both, 0 by the camera only" in answer.out


def test_it_leaves_its_files_and_lists_each(answer: Answer, folder: Path) -> None:
    assert {path.name for path in folder.iterdir()} == FILES | {SUMS}
    listed = answer.out[answer.out.index(f"In {folder}:") :].splitlines()[1:]
    assert {line.split()[0] for line in listed} == FILES


def test_its_files_can_be_read(answer: Answer, folder: Path) -> None:
    with ClipReader(folder / "clip.mp4") as clip:
        assert sum(1 for _ in clip) == len(simulate(demo_scene()).times)
    assert load_outlet(folder / "outlet.yaml").view.line_px == demo_scene().view.line_px
    assert cv2.imread(str(folder / "strip.png")) is not None
    assert (folder / "beam.csv").read_text(encoding="utf-8").startswith("time_s,blocked")


def test_the_command_for_clips_finds_the_same(answer: Answer, folder: Path) -> None:
    words = ["--outlet", folder / "outlet.yaml", "--beam", folder / "beam.csv", "--json"]
    again = call("count", folder / "clip.mp4", *words)
    stored = json.loads((folder / "tally.json").read_text(encoding="utf-8"))
    assert json.loads(again.out) == stored


def test_sums_are_those_of_sha256sum(answer: Answer, folder: Path) -> None:
    done = subprocess.run(["sha256sum", "--check", SUMS], cwd=folder, check=False)
    assert done.returncode == 0


@pytest.fixture
def own(tmp_path: Path) -> OwnFolder:
    """A folder that holds what the demo wrote."""
    for name in FILES:
        (tmp_path / name).write_text(f"{name} as it was\n", encoding="utf-8")
    made = OwnFolder(tmp_path, sorted(FILES))
    made.seal()
    return made


def test_it_replaces_its_own_files(own: OwnFolder) -> None:
    own.require_own()


def test_files_of_other_names_are_no_matter(own: OwnFolder, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine\n", encoding="utf-8")
    own.require_own()


@pytest.mark.parametrize("name", sorted(FILES))
def test_it_writes_over_no_file_that_was_changed(name: str, own: OwnFolder, tmp_path: Path) -> None:
    (tmp_path / name).write_text("mine\n", encoding="utf-8")
    with pytest.raises(UsageError, match=name):
        own.require_own()


def test_it_writes_over_nothing_in_a_folder_that_is_not_its_own(tmp_path: Path) -> None:
    (tmp_path / "outlet.yaml").write_text("view: {line_px: 3}\n", encoding="utf-8")
    refused = call("demo", "--out", tmp_path)
    assert (refused.status, refused.out) == (2, "")
    assert "outlet.yaml" in refused.err
    assert [path.name for path in tmp_path.iterdir()] == ["outlet.yaml"]
    assert (tmp_path / "outlet.yaml").read_text(encoding="utf-8") == "view: {line_px: 3}\n"


def test_a_file_where_the_folder_should_be(tmp_path: Path) -> None:
    (tmp_path / "demo").write_text("", encoding="utf-8")
    refused = call("demo", "--out", tmp_path / "demo")
    assert refused.status == 2
    assert "a file, not a folder" in refused.err


@pytest.fixture
def truth_file(folder: Path, answer: Answer) -> Path:
    return folder / "truth.json"


def test_comparison_of_the_truth_with_itself(truth_file: Path) -> None:
    found = compared(true_tally(simulate(demo_scene()).truth), truth_file)
    assert (found.truth, found.counted, found.equal) == (24, 24, True)
    assert found.worst_ms == pytest.approx(0, abs=1e-6)


def test_times_that_are_off_are_told_in_ms(truth_file: Path) -> None:
    made = true_tally(simulate(demo_scene()).truth)
    first = made.passages[0]
    late = replace(first, passage=replace(first.passage, t_ns=first.passage.t_ns + 2_400_000))
    found = compared(replace(made, passages=(late, *made.passages[1:])), truth_file)
    assert found.worst_ms == pytest.approx(2.4)
    # One of 24 is off: sqrt(2.4² / 24).
    assert found.rms_ms == pytest.approx(0.48990, abs=1e-4)


def test_times_are_not_compared_where_passages_are_not_parts(truth_file: Path) -> None:
    made = true_tally(simulate(demo_scene()).truth)
    first = made.passages[0]
    back = replace(first, passage=replace(first.passage, direction=Direction.AGAINST))
    for passages in (made.passages[1:], (back, *made.passages[1:])):
        found = compared(replace(made, passages=passages, count=len(passages)), truth_file)
        assert found.worst_ms is None
        assert found.rms_ms is None
    assert compared(tally((), count=None), truth_file).counted_words == "no count"


def test_a_count_that_is_not_the_truth_ends_as_invalid(
    folder: Path, truth_file: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def already_written(scene: object, directory: Path) -> Written:
        return Written(
            clip=folder / "clip.mp4",
            truth=truth_file,
            outlet=folder / "outlet.yaml",
            scene=folder / "scene.yaml",
            beam=None,
        )

    monkeypatch.setattr("viscount.cli.demonstration.write_pour", already_written)
    monkeypatch.setattr("viscount.cli.counting.offline_count", lambda *_, **__: tally())
    monkeypatch.setattr("viscount.report.strip.LineStrip.write", lambda *_: None)
    wrong = call("demo", "--out", tmp_path)
    assert wrong.status == 12
    assert "counted   3 parts: NOT the same" in wrong.out
    assert "the count is not the truth" in wrong.err
