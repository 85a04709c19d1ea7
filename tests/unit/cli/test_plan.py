"""``viscount plan``: its answers, and what it refuses."""

import json
from pathlib import Path

import pytest
from commands import call

OUTLET = """
view: {falls: down, lip_px: -120, line_px: 300, scale_px_per_mm: 4.0}
motion: {kind: free_fall}
camera: {exposure_us: 150, readout: down, line_time_us: 20}
beam: {below_lip_mm: 20, width_mm: 1.0}
gate: {below_lip_mm: 60}
part: {name: M3x8, along_fall_mm: 5.5, stack_pitch_mm: 5.5}
"""
COLUMN = ("--count", 60, "--acceleration-mm-s2", 2350)


@pytest.fixture
def outlet(tmp_path: Path) -> Path:
    file = tmp_path / "outlet.yaml"
    file.write_text(OUTLET, encoding="utf-8")
    return file


def test_files_and_options_together(outlet: Path) -> None:
    gate = ("--reach-ms", 8, 14, "--shut-ms", 12, 18)
    camera = ("--fps", 120, "--view-mm", 30, 150)
    answer = call("plan", "--outlet", outlet, *COLUMN, *camera, *gate, "--json")
    assert (answer.status, answer.err) == (0, "")
    found = json.loads(answer.out)
    assert found["schema"] == "viscount.plan/1"
    assert found["missing"] == []
    assert found["given"]["line_mm"] == pytest.approx(105.0)
    assert found["given"]["length_mm"] == 5.5
    places = [row["place"] for row in found["heights"] if row["pair"] == "1, 2"]
    assert places == ["lip", "beam", "blade", "line"]
    assert [cut["fits"] for cut in found["cuts"]] == [True, False, False]
    enough = {need["what"]: need["enough"] for need in found["needs"]}
    assert enough["frame rate"] is True
    assert enough["time in which its sensor answers"] is None
    assert enough["stroke of the gate (greatest shut less least reach)"] is False


def test_tables_for_people(outlet: Path) -> None:
    answer = call("plan", "--outlet", outlet, *COLUMN, "--fps", 120)
    assert answer.status == 0
    for words in ("Interval, spacing and gap", "59, 60", "What is needed", "not known"):
        assert words.lower() in answer.out.lower()
    assert "how fast the gate is: --reach-ms and --shut-ms" in " ".join(answer.out.split())


def test_an_option_stands_over_the_file(outlet: Path) -> None:
    answer = call("plan", "--outlet", outlet, *COLUMN, "--length-mm", 4.5, "--json")
    assert json.loads(answer.out)["given"]["length_mm"] == 4.5


def test_a_rate_is_an_interval() -> None:
    answer = call("plan", "--rate-per-s", 50, "--lip-speed-mm-s", 900, "--length-mm", 8, "--json")
    (row,) = json.loads(answer.out)["heights"]
    assert row["interval_s"] == pytest.approx(0.02)
    assert row["gap_mm"] == pytest.approx(10.0)


def test_readout_across_the_fall_costs_nothing(outlet: Path) -> None:
    text = OUTLET.replace("readout: down", "readout: left")
    outlet.write_text(text, encoding="utf-8")
    found = json.loads(call("plan", "--outlet", outlet, *COLUMN, "--json").out)
    assert found["given"]["line_time_us"] == 0.0


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ((), "no way in which parts leave"),
        (("--interval-ms", 8), "size along the fall is not known; give --length-mm"),
        (("--interval-ms", 8, "--rate-per-s", 9, "--length-mm", 3), "several ways"),
        (("--count", 5, "--length-mm", 3), "pitch is not known; give --pitch-mm"),
        (("--count", 5, "--length-mm", 3, "--pitch-mm", 3), "give --acceleration-mm-s2"),
        (("--interval-ms", -1, "--length-mm", 3), "--interval-ms: -1; allowed: more than 0"),
        (("--interval-ms", "nan", "--length-mm", 3), "--interval-ms: nan"),
        (("--interval-ms", 9, "--length-mm", 3, "--line-mm", -2), "--line-mm: -2"),
        (("--interval-ms", 9, "--length-mm", 3, "--view-mm", 9, 3), "a view from 9 to 3 mm"),
        (("--interval-ms", 9, "--length-mm", 3, "--reach-ms", 8, 9), "give both"),
        (
            ("--interval-ms", 9, "--length-mm", 3, "--reach-ms", 9, 8, "--shut-ms", 9, 9),
            "--reach-ms 9 8",
        ),
        (("--outlet", "none.yaml"), "there is no such file"),
    ],
)
def test_bad_calls_are_told_in_words(words: tuple[object, ...], complaint: str) -> None:
    answer = call("plan", *words)
    assert answer.status == 2
    assert complaint in answer.err
    assert "Traceback" not in answer.err


def test_a_slide_needs_its_acceleration(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text("motion: {kind: slide}\n", encoding="utf-8")
    answer = call("plan", "--outlet", file, "--interval-ms", 9, "--length-mm", 3)
    assert answer.status == 2
    assert "motion.acceleration_mm_s2" in answer.err
