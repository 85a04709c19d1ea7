"""``count --beam``, ``--beam-total``, ``--hand-count`` and ``compare``, as programs call them."""

import json
from pathlib import Path
from typing import Any

import pytest
from beam_logs import ready_pour
from commands import Answer, call
from contract.test_tally_json import VALIDATOR, strict

SAME = ("count", "count_low", "count_high", "status", "reasons", "pours", "beam", "expected")


@pytest.fixture(scope="module")
def pour(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return ready_pour("beam-misses", tmp_path_factory.mktemp("pours"))


@pytest.fixture(scope="module")
def alone(pour: Path) -> Path:
    """The camera's tally, stored as a user would."""
    answer = counted(pour, "--json", beam=False)
    path = pour / "alone.json"
    path.write_text(answer.out, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def beside(pour: Path) -> dict[str, Any]:
    """The tally of both counters."""
    answer = counted(pour, "--json")
    assert (answer.status, answer.err) == (0, "")
    found = strict(answer.out)
    VALIDATOR.validate(found)
    return found


def counted(pour: Path, *words: object, beam: bool = True) -> Answer:
    log = ["--beam", pour / "beam.csv"] if beam else []
    return call("count", pour / "clip.mp4", "--outlet", pour / "outlet.yaml", *log, *words)


def compared(tally: Path, log: Path, *words: object) -> dict[str, Any]:
    answer = call("compare", tally, log, "--json", *words)
    assert answer.err == ""
    found = strict(answer.out)
    VALIDATOR.validate(found)
    return found


def test_a_beam_log_gives_beam_and_agreement(beside: dict[str, Any]) -> None:
    assert (beside["count"], beside["camera"]["count"], beside["beam"]["parts"]) == (15, 15, 13)
    agreement = beside["agreement"]
    assert (agreement["agreed"], agreement["camera_only"]) == (13, 2)
    assert len(agreement["pairings"]) == 15
    assert len(agreement["pulses"]) == beside["beam"]["pulses"] == 13


def test_compare_gives_the_same_answer(pour: Path, alone: Path, beside: dict[str, Any]) -> None:
    found = compared(alone, pour / "beam.csv")
    assert {key: found[key] for key in SAME} == {key: beside[key] for key in SAME}
    for key, value in beside["agreement"].items():
        other = found["agreement"][key]
        if key == "pairings":
            parts = [(p["kind"], p["passages"], p["pulses"], p["parts"]) for p in value]
            assert [(p["kind"], p["passages"], p["pulses"], p["parts"]) for p in other] == parts
        elif key == "pulses":
            assert [p["start_s"] for p in other] == [p["start_s"] for p in value]
        elif value is None:
            assert other is None
        else:
            assert other == pytest.approx(value, rel=1e-3)


def test_compare_of_a_tally_of_both_makes_it_anew(
    pour: Path, beside: dict[str, Any], tmp_path: Path
) -> None:
    path = tmp_path / "both.json"
    path.write_text(json.dumps(beside), encoding="utf-8")
    found = compared(path, pour / "beam.csv")
    assert {key: found[key] for key in SAME} == {key: beside[key] for key in SAME}
    assert found["assumed"] == beside["assumed"]
    # Another log is judged by itself: nothing of the first one is left.
    empty = tmp_path / "empty.csv"
    empty.write_text("time_s,blocked\n0.350000,0\n# end 1.7\n", encoding="utf-8")
    found = compared(path, empty)
    assert found["status"] == "doubtful"
    assert found["agreement"]["agreed"] == 0


def test_settings_of_the_count_hold_for_compare(pour: Path, tmp_path: Path) -> None:
    """A line that the command line moved is where the passages are."""
    setting = ["--set", "view.line_px=200", "--set", "beam.below_lip_mm=61.0"]
    both = strict(counted(pour, "--json", *setting).out)
    path = tmp_path / "alone.json"
    path.write_text(counted(pour, "--json", *setting, beam=False).out, encoding="utf-8")
    found = compared(path, pour / "beam.csv")
    offset = both["agreement"]["clock_offset_s"]
    assert found["agreement"]["clock_offset_s"] == pytest.approx(offset, abs=1e-6)
    assert found["count"] == both["count"]


def test_compare_prints_what_count_prints(pour: Path, alone: Path) -> None:
    text = call("compare", alone, pour / "beam.csv").out
    wanted = counted(pour).out
    labels = ("both", "camera only", "range", "seen", "beam ")
    for label in labels:
        lines = [line for line in wanted.splitlines() if line.startswith(label)]
        assert lines
        assert all(line in text for line in lines)
    assert "2 parts gave no pulse, at 0.5" in text
    assert "13 parts by itself, from 13 pulses; clean" in text


def test_an_outlet_file_that_changed_must_be_named(pour: Path, alone: Path, tmp_path: Path) -> None:
    stored = json.loads(alone.read_text(encoding="utf-8"))
    stored["outlet"]["name"] = str(tmp_path / "gone.yaml")
    path = tmp_path / "moved.json"
    path.write_text(json.dumps(stored), encoding="utf-8")
    answer = call("compare", path, pour / "beam.csv", "--json")
    assert (answer.status, answer.out) == (2, "")
    assert "gone.yaml, which is not there any more or has changed" in answer.err
    assert "--outlet" in answer.err
    found = compared(path, pour / "beam.csv", "--outlet", pour / "outlet.yaml")
    assert found["count"] == 15


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("{", "it is not JSON"),
        ("[]", "it does not state its schema"),
        ('{"schema": "viscount.truth/2"}', "it does not state its schema"),
        ('{"schema": "viscount.tally/2"}', "schema viscount.tally/2; allowed: viscount.tally/1"),
        ('{"schema": "viscount.tally/1"}', "field required"),
        ("\x00\x01\xff", "it is not JSON"),
    ],
)
def test_a_file_that_is_no_tally(pour: Path, content: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "odd.json"
    path.write_bytes(content.encode("latin-1"))
    answer = call("compare", path, pour / "beam.csv")
    assert (answer.status, answer.out) == (2, "")
    assert said in answer.err
    assert "odd.json" in answer.err
    assert "Traceback" not in answer.err


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("camera", {"count": "many"}, "camera.count"),
        ("passages", [{"id": 1}], "passages.0.pour"),
        ("frames", None, "frames"),
        ("set_up", None, "without `set_up`"),
    ],
)
def test_a_tally_with_a_hole_in_it(
    pour: Path, alone: Path, key: str, value: object, said: str, tmp_path: Path
) -> None:
    stored = json.loads(alone.read_text(encoding="utf-8")) | {key: value}
    path = tmp_path / "holed.json"
    path.write_text(json.dumps(stored), encoding="utf-8")
    answer = call("compare", path, pour / "beam.csv")
    assert (answer.status, answer.out) == (2, "")
    assert said in answer.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--beam-total", 14], "one of --beam and --beam-total"),
        (["--beam", "no.csv"], "the beam log cannot be read"),
        (["--hand-count", -1], "a hand count of -1"),
        (["--plot", "plot.jpg"], "a name ending in .png"),
        (["--plot", "nowhere/plot.png"], "there is no folder nowhere"),
    ],
)
def test_calls_that_make_no_sense_are_refused_before_any_counting(
    pour: Path, words: list[object], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("it began to count")

    monkeypatch.setattr("viscount.offline.counting.open_source", never)
    answer = counted(pour, *words)
    assert (answer.status, answer.out) == (2, "")
    assert said in answer.err


def test_a_plot_without_a_beam_and_a_total_below_none_are_refused(pour: Path) -> None:
    answer = counted(pour, "--plot", "plot.png", beam=False)
    assert answer.status == 2
    assert "add --beam FILE" in answer.err
    answer = counted(pour, "--beam-total", -3, beam=False)
    assert answer.status == 2
    assert "0 or more" in answer.err


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (["--beam-total", 15], 0),
        (["--beam-total", 14], 10),
        (["--beam-total", 15, "--expect", 14], 11),
        (["--hand-count", 15], 0),
        (["--hand-count", 16], 11),
    ],
)
def test_exit_statuses(pour: Path, words: list[object], status: int) -> None:
    assert counted(pour, *words, beam=False).status == status


def test_a_beam_that_disagrees_is_10(pour: Path, alone: Path, tmp_path: Path) -> None:
    rows = (pour / "beam.csv").read_text(encoding="utf-8").splitlines()
    short = tmp_path / "short.csv"
    short.write_text("\n".join([*rows[:9], "# end 1.700000"]) + "\n", encoding="utf-8")
    answer = call("compare", alone, short, "--json")
    assert answer.status == 10
    found = strict(answer.out)
    assert found["count_low"] <= 15 <= found["count_high"]


def test_a_check_pour_says_how_far_each_counter_was_off(pour: Path) -> None:
    answer = counted(pour, "--hand-count", 15, "--json")
    check = strict(answer.out)["check"]
    assert [(one["name"], one["off"]) for one in check["counters"]] == [
        ("camera", 0),
        ("beam", -2),
        ("both", 0),
    ]
    assert check["bags_needed"] == 2994
    text = counted(pour, "--hand-count", 15).out
    assert "beam: 13, 2 missing; 13 % of the parts wrong, truly 1.7 to 40 %" in text
    assert "2994 more bags in a row" in text


def test_a_plot_is_drawn_by_count_and_by_compare(pour: Path, alone: Path, tmp_path: Path) -> None:
    first, second = tmp_path / "count.png", tmp_path / "compare.png"
    assert counted(pour, "--plot", first).status == 0
    assert call("compare", alone, pour / "beam.csv", "--plot", second).status == 0
    for path in (first, second):
        assert path.read_bytes().startswith(b"\x89PNG")
