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
STEADY = ("--interval-ms", 9, "--lip-speed-mm-s", 900, "--length-mm", 8)


@pytest.fixture
def outlet(tmp_path: Path) -> Path:
    file = tmp_path / "outlet.yaml"
    file.write_text(OUTLET, encoding="utf-8")
    return file


def test_files_and_options_together(outlet: Path) -> None:
    gate = ("--reach-ms", 8, 14, "--shut-ms", 12, 18)
    camera = ("--fps", 120, "--view-mm", 30, 150, "--beam-response-us", 100)
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
    enough = {need["name"]: need["enough"] for need in found["needs"]}
    assert enough == {
        "frame_rate_for_sightings": True,
        "view_height": True,
        "frame_rate_for_nearness": False,
        "exposure_sharp": True,
        "exposure_apart": True,
        "line_time": True,
        "beam_width": True,
        "beam_response": True,
        "gate_stroke": False,
    }
    assert found["empty_s"] == pytest.approx(0.530, abs=1e-3)
    assert [row["pair"] for row in found["beam"]] == ["1, 2", "30, 31", "59, 60"]


def test_tables_for_people(outlet: Path) -> None:
    answer = call("plan", "--outlet", outlet, *COLUMN, "--fps", 120)
    assert answer.status == 0
    for words in ("Interval, spacing and gap", "59, 60", "What is needed", "not known"):
        assert words.lower() in answer.out.lower()
    assert "how fast the gate is: --reach-ms and --shut-ms" in " ".join(answer.out.split())


def test_an_option_stands_over_the_file(outlet: Path) -> None:
    answer = call("plan", "--outlet", outlet, *COLUMN, "--length-mm", 4.5, "--json")
    assert json.loads(answer.out)["given"]["length_mm"] == 4.5


def test_the_region_is_the_view(outlet: Path) -> None:
    """Its first pixel's edge is at 79.5 px, so 199.5 px below the lip, at 4 px/mm."""
    text = OUTLET.replace("falls: down", "falls: down, region_px: [0, 80, 50, 400]")
    outlet.write_text(text, encoding="utf-8")
    found = json.loads(call("plan", "--outlet", outlet, *COLUMN, "--json").out)
    assert found["given"]["view_mm"] == pytest.approx([49.875, 129.875])


def test_a_view_that_shows_no_part_whole() -> None:
    """No rate will do; JSON has no number for that, and says not enough all the same."""
    words = ("--interval-ms", 9, "--lip-speed-mm-s", 900, "--length-mm", 8, "--view-mm", 20, 26)
    found = json.loads(call("plan", *words, "--fps", 120, "--json").out)
    (rate,) = [n for n in found["needs"] if n["name"] == "frame_rate_for_sightings"]
    assert (rate["needed"], rate["given"], rate["enough"]) == (None, 120.0, False)
    assert "no figure will do" in call("plan", *words, "--fps", 120).out


def test_a_column_does_not_take_the_lip_speed_of_a_file(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text("motion: {kind: free_fall, speed_mm_s: 300}\n", encoding="utf-8")
    words = ("--outlet", file, "--length-mm", 5, "--json")
    column = call("plan", *words, *COLUMN, "--pitch-mm", 5)
    assert json.loads(column.out)["given"]["lip_speed_mm_s"] is None
    steady = call("plan", *words, "--interval-ms", 20)
    assert json.loads(steady.out)["heights"][0]["speed_mm_s"] == 300.0


@pytest.mark.parametrize(
    ("beam", "blade", "why"),
    [(60, 20, "the beam must be above the blade"), (3, 60, "before the parts are let go")],
)
def test_why_there_is_no_cut(beam: int, blade: int, why: str) -> None:
    heights = ("--beam-mm", beam, "--blade-mm", blade)
    found = json.loads(call("plan", *STEADY, *heights, "--json").out)
    assert found["cuts"] == []
    assert why in found["missing"][-1]


def test_only_a_ball_has_one_size(tmp_path: Path) -> None:
    file = tmp_path / "part.yaml"
    file.write_text("{shape: ball, diameter_mm: 6.0}\n", encoding="utf-8")
    words = ("--interval-ms", 9, "--lip-speed-mm-s", 900, "--part", file, "--json")
    assert json.loads(call("plan", *words).out)["given"]["length_mm"] == 6.0
    file.write_text("{shape: screw, overall_length_mm: 16.0}\n", encoding="utf-8")
    assert "give --length-mm" in call("plan", *words).err


def test_a_rate_is_an_interval() -> None:
    answer = call("plan", "--rate-per-s", 50, "--lip-speed-mm-s", 900, "--length-mm", 8, "--json")
    assert answer.status == 0
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
        (
            ("--interval-ms", 8, "--lip-speed-mm-s", 0),
            "along the fall is not known; give --length-mm",
        ),
        (("--interval-ms", 8, "--length-mm", 3), "speed at the lip is not known; give --lip-speed"),
        ((*STEADY, "--rate-per-s", 9), "several ways"),
        ((*STEADY, "--count", 9), "several ways"),
        ((*STEADY, "--pitch-mm", 9), "--pitch-mm without a column"),
        ((*COLUMN, "--length-mm", 3), "pitch is not known; give --pitch-mm"),
        (("--count", 5, "--length-mm", 3, "--pitch-mm", 3), "give --acceleration-mm-s2"),
        (
            ("--count", 5, "--length-mm", 3, "--pitch-mm", 3, "--acceleration-mm-s2", 10_000),
            "would run into each other",
        ),
        ((*COLUMN, "--lip-speed-mm-s", 0), "brings its own speed"),
        (("--interval-ms", -1), "--interval-ms: -1; allowed: 0.001 to 1e+06"),
        (("--interval-ms", "nan"), "--interval-ms: nan"),
        (("--interval-ms", "inf"), "--interval-ms: inf"),
        ((*STEADY, "--fps", 1e-200), "--fps: 1e-200"),
        ((*STEADY, "--line-mm", -2), "--line-mm: -2"),
        ((*STEADY, "--view-mm", 9, 3), "a view from 9 to 3 mm"),
        ((*STEADY, "--view-mm", "nan", 3), "a view from nan to 3 mm"),
        ((*STEADY, "--view-mm", 3, "inf"), "a view from 3 to inf mm"),
        ((*STEADY, "--fps", 120, "--exposure-us", 9000), "with a frame every 8333 µs"),
        ((*STEADY, "--beam-threshold-percent", 100), "--beam-threshold-percent: 100"),
        ((*STEADY, "--reach-ms", 8, 9), "give both"),
        ((*STEADY, "--reach-ms", 9, 8, "--shut-ms", 9, 9), "--reach-ms 9 8"),
        ((*STEADY, "--reach-ms", 8, "inf", "--shut-ms", 9, 9), "--reach-ms 8 inf"),
        ((*STEADY, "--reach-ms", 8, 14, "--shut-ms", 2, 3), "before --reach-ms"),
        (("--count", 10**400), "--count"),
        (("--outlet", "none.yaml"), "there is no such file"),
    ],
)
def test_bad_calls_are_told_in_words(words: tuple[object, ...], complaint: str) -> None:
    answer = call("plan", *words)
    assert answer.status == 2
    assert complaint in answer.err
    assert "Traceback" not in answer.err


def test_a_belt_that_stands(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text("motion: {kind: belt, speed_mm_s: 0}\n", encoding="utf-8")
    answer = call("plan", "--outlet", file, "--interval-ms", 9, "--length-mm", 3, "--line-mm", 9)
    assert answer.status == 2
    assert "a belt that stands" in answer.err


def test_a_number_of_a_file_is_said_to_be_one(outlet: Path) -> None:
    """A counting line above the lip."""
    outlet.write_text(OUTLET.replace("lip_px: -120", "lip_px: 420"), encoding="utf-8")
    answer = call("plan", "--outlet", outlet, *COLUMN)
    assert answer.status == 2
    assert "line_mm, from the files: -30; allowed: 0 to 10000" in answer.err


def test_a_slide_needs_its_acceleration(tmp_path: Path) -> None:
    file = tmp_path / "outlet.yaml"
    file.write_text("motion: {kind: slide}\n", encoding="utf-8")
    answer = call("plan", "--outlet", file, "--interval-ms", 9, "--length-mm", 3)
    assert answer.status == 2
    assert "motion.acceleration_mm_s2" in answer.err


def test_what_is_taken_for_granted_is_noted_and_not_called_given(outlet: Path) -> None:
    found = json.loads(call("plan", "--outlet", outlet, *COLUMN, "--json").out)
    assert found["given"]["beam_threshold_percent"] is None
    assert any("50 % of its light" in note for note in found["notes"])
    said = call("plan", "--outlet", outlet, *COLUMN, "--beam-threshold-percent", 40, "--json")
    assert json.loads(said.out)["notes"] == []


def test_parts_longer_than_their_pitch_are_noted(outlet: Path) -> None:
    answer = call("plan", "--outlet", outlet, *COLUMN, "--length-mm", 11)
    assert answer.status == 0
    assert "11 mm along the fall in a column with a pitch of 5.5 mm" in " ".join(answer.out.split())


def test_the_coils_own_time_is_told_where_it_is_given(outlet: Path) -> None:
    """A plain diode is the slow case."""
    coil = ("--coil", 40, 60, 12)
    found = json.loads(call("plan", "--outlet", outlet, *COLUMN, *coil, "--json").out)["coil"]
    times_ms = {(one["clamp"], one["share"]): 1e3 * one["s"] for one in found["falls"]}
    assert times_ms[("plain diode", 0.3)] == pytest.approx(1.6018, abs=6e-5)
    assert "falls, plain diode" in call("plan", "--outlet", outlet, *COLUMN, *coil).out
    assert json.loads(call("plan", "--outlet", outlet, *COLUMN, "--json").out)["coil"] is None


def test_a_coil_of_no_resistance_is_refused(outlet: Path) -> None:
    answer = call("plan", "--outlet", outlet, *COLUMN, "--coil", 0, 60, 12)
    assert answer.status == 2
    assert "0 ohm" in answer.err
    assert "--coil" in answer.err
