"""``viscount cut`` as people and programs call it."""

import json
from pathlib import Path

import pytest
from commands import FIXTURES, call

from viscount.codes import Code

CLIP = FIXTURES / "screws" / "clip.mp4"
STROKES = (
    "# gate\ndirection,first_motion_ms,begins_ms,done_ms\n"
    "shut,3.0,8.0,12.0\nshut,,9.0,13.5\nopen,2.0,4.0,9.0\n"
)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a stored tally, an outlet file with a gate, and a file of strokes."""
    folder = tmp_path_factory.mktemp("cut")
    plain = FIXTURES / "screws" / "outlet.yaml"
    text = plain.read_text(encoding="utf-8")
    (folder / "outlet.yaml").write_text(f"{text}gate:\n  below_lip_mm: 120.0\n", encoding="utf-8")
    (folder / "strokes.csv").write_text(STROKES, encoding="utf-8")
    counted = call("count", CLIP, "--outlet", plain, "--json")
    assert counted.status == 0
    (folder / "tally.json").write_text(counted.out, encoding="utf-8")
    return folder


def planned(place: Path, *more: object, strokes: bool = True):  # type: ignore[no-untyped-def]
    words = ["cut", place / "tally.json", "--outlet", place / "outlet.yaml", *more]
    return call(*words, *(["--strokes", place / "strokes.csv"] if strokes else []))


def test_people_read_what_it_rests_on_the_cuts_and_what_would_help(place: Path) -> None:
    answer = planned(place)
    assert (answer.status, answer.err) == (0, "")
    for text in (
        "a plan, not a safety function",
        "never the camera",
        "reach 8.00 to 9.00 ms, shut 12.00 to 13.50 ms, in 2 strokes",
        "wholly open 9.00 to 9.00 ms, in 1 stroke",
        "the blade is 100.0 mm below the beam",
        "to promise 99 % takes 368 of each",
        "ms after the head of the named part",
        "pinched",
        "can be cut exactly in 99 % of bags",
        "no number can be promised",
    ):
        assert text in answer.out


def test_programs_read_one_object(place: Path) -> None:
    found = json.loads(planned(place, "--json").out)
    assert (found["schema"], found["status"], found["unit"]) == ("viscount.cut/1", "clean", "mm")
    assert [row["n"] for row in found["cuts"]] == list(range(1, 12))
    assert found["strokes"]["shutting"]["reach_ms"] == {"min": 8.0, "p50": 8.5, "max": 9.0}
    assert found["strokes"]["shutting"]["first_motion_ms"] == {"min": 3.0, "p50": 3.0, "max": 3.0}
    assert [note["code"] for note in found["notes"]] == ["cut_too_few"]
    first = found["cuts"][0]
    own = first["trigger"]
    assert own["earliest_ms"] == pytest.approx(own["clear_ms"] - 8.0)
    assert own["latest_ms"] == pytest.approx(own["arrive_ms"] - 13.5)
    assert own["earliest_ms"] <= own["delay_ms"] <= own["latest_ms"]
    assert first["outcome"]["exact"]["chance"] > 0.99
    # One pour alone has no others that could choose its delay.
    assert first["outcome"]["left_out"] == ["strokes"]
    assert found["remedies"]["blade_lower_by_px"] is None
    assert found["expected_up_to"] == found["largest_expected"]
    assert found["largest_promised"] is None


def test_with_two_pours_each_is_tried_by_the_others_delay(place: Path) -> None:
    alone, both = planned(place), planned(place, place / "tally.json")
    assert "How likely in pours to come" in both.out
    assert "where pours is 1" in " ".join(alone.out.split())
    assert "where pours is 1" not in " ".join(both.out.split())
    cut = json.loads(planned(place, place / "tally.json", "--json", "--each", 2).out)["cuts"][0]
    assert cut["outcome"]["left_out"] == ["pours", "strokes"]
    exact = cut["outcome"]["exact"]
    assert exact["low"] <= exact["chance"] <= exact["high"]


def test_recordings_do_as_well_as_tallies(place: Path) -> None:
    words = ["--outlet", place / "outlet.yaml", "--each", 2, "--json"]
    from_clip = json.loads(call("cut", CLIP, *words).out)
    from_tally = json.loads(call("cut", place / "tally.json", *words).out)
    for key in ("clear_ms", "arrive_ms"):
        # A stored tally keeps times to the nanosecond, speeds to six decimals.
        one, other = (found["cuts"][0]["trigger"][key] for found in (from_clip, from_tally))
        assert one == pytest.approx(other, abs=1e-4)


def test_without_strokes_what_a_gate_needs(place: Path) -> None:
    answer = planned(place, strokes=False)
    assert answer.status == 0
    assert "stroke at most" in answer.out
    assert "the hardest cut, after part 11, needs" in answer.out
    found = json.loads(planned(place, "--json", strokes=False).out)
    assert found["strokes"] is None
    assert found["cuts"][0]["outcome"] is None
    assert found["cuts"][0]["expected"] is None
    assert found["remedies"] is None


def test_late_commands_move_the_window(place: Path) -> None:
    plain = json.loads(planned(place, "--each", 1, "--json").out)["cuts"][0]["trigger"]
    late = json.loads(
        planned(
            place, "--each", 1, "--json", "--late-ms", 2, 3, "--tick-us", 500, "--jitter-ms", 0.1
        ).out
    )["cuts"][0]["trigger"]
    assert late["earliest_ms"] == pytest.approx(plain["earliest_ms"] - 2 + 0.2)
    assert late["latest_ms"] == pytest.approx(plain["latest_ms"] - 3 - 0.5 - 0.2)


def test_the_blade_of_the_command_line_stands_over_the_file(place: Path) -> None:
    found = json.loads(planned(place, "--json", "--set", "gate.below_lip_mm=100").out)
    assert found["blade_below_line"] == pytest.approx(34.0)


def test_a_doubtful_count_gives_a_doubtful_plan(place: Path, tmp_path: Path) -> None:
    tally = json.loads((place / "tally.json").read_text(encoding="utf-8"))
    reason = {"code": "passages_unsure", "text": "some passages are unsure"}
    for part in (tally, tally["camera"]):
        part["status"], part["reasons"] = "doubtful", [reason]
    stored = tmp_path / "tally.json"
    stored.write_text(json.dumps(tally), encoding="utf-8")
    words = ["cut", stored, "--outlet", place / "outlet.yaml"]
    answer = call(*words)
    assert answer.status == 10
    assert "the count is doubtful (passages_unsure)" in answer.out
    found = json.loads(call(*words, "--json").out)
    assert [reason["code"] for reason in found["reasons"]] == [Code.CUT_COUNT_DOUBTFUL.code]
    assert found["status"] == "doubtful"


def test_an_invalid_count_carries_no_plan(place: Path, tmp_path: Path) -> None:
    tally = json.loads((place / "tally.json").read_text(encoding="utf-8"))
    tally["camera"]["status"] = "invalid"
    stored = tmp_path / "tally.json"
    stored.write_text(json.dumps(tally), encoding="utf-8")
    answer = call("cut", stored, "--outlet", place / "outlet.yaml")
    assert answer.status == 12
    assert "nothing can be planned on it" in answer.err


@pytest.mark.parametrize(
    ("more", "found"),
    [
        (("--each", 12), "a cut after part 12, where the longest pour has 12"),
        (("--rate", 2), "a rate of 2"),
        (("--late-ms", 5, 2), "--late-ms: 5 2"),
        (("--jitter-ms", -1), "--jitter-ms: -1 ms"),
        (("--set", "gate.below_lip_mm=10"), "below the blade"),
        (("--strokes", "none.csv"), "the strokes cannot be read"),
        (("--plot", "cut.pdf"), "a plot is a PNG picture"),
    ],
)
def test_what_cannot_be_used_is_refused(place: Path, more: tuple, found: str) -> None:
    answer = planned(place, *more, strokes="--strokes" not in more)
    assert (answer.status, answer.out) == (2, "")
    assert found in answer.err


def test_without_a_gate_in_the_outlet_file(place: Path) -> None:
    answer = call("cut", place / "tally.json", "--outlet", FIXTURES / "screws" / "outlet.yaml")
    assert answer.status == 2
    assert "gate.below_lip_mm: the height of the blade is not known" in answer.err


def test_counts_with_different_lines_are_refused(place: Path, tmp_path: Path) -> None:
    tally = json.loads((place / "tally.json").read_text(encoding="utf-8"))
    tally["set_up"]["line_px"] += 3
    stored = tmp_path / "tally.json"
    stored.write_text(json.dumps(tally), encoding="utf-8")
    answer = planned(place, stored)
    assert answer.status == 2
    assert "line or scale differ" in answer.err


def test_a_plot_is_drawn(place: Path) -> None:
    for name, more in (("all.png", ()), ("one.png", ("--each", 3))):
        answer = planned(place, "--plot", place / name, *more)
        assert answer.status == 0
        assert (place / name).read_bytes().startswith(b"\x89PNG")
