"""``viscount pool``, as programs and packers call it."""

import json
from pathlib import Path
from typing import Any

import pytest
from beam_logs import ready_pour
from commands import call
from contract.test_tally_json import strict


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """One check pour, and thirteen runs more that are its like: another log, other times."""
    folder = tmp_path_factory.mktemp("pool")
    pour = ready_pour("beam-misses", folder)
    words = ["--outlet", pour / "outlet.yaml", "--beam", pour / "beam.csv", "--hand-count", 15]
    first = strict(call("count", pour / "clip.mp4", *words, "--json").out)
    made = []
    for number in range(14):
        for passage in first["passages"]:
            passage["time_s"] += 1e-6
        path = folder / f"run-{number:02}.json"
        path.write_text(json.dumps(first), encoding="utf-8")
        made.append(path)
    return made


def pooled(*words: object) -> dict[str, Any]:
    answer = call("pool", *words, "--json")
    assert (answer.status, answer.err) == (0, "")
    return strict(answer.out)


def test_json_has_rates_with_limits(stored: list[Path]) -> None:
    found = pooled(*stored)
    assert found["schema"] == "viscount.pool/1"
    assert (found["runs"], found["unpaired"]) == (14, [])
    # Thirteen of fifteen seen by both, two by the camera alone.
    assert found["parts"] == {"both": 14 * 13, "camera_only": 28, "beam_only": 0}
    assert (found["beam_missed"]["errors"], found["beam_missed"]["trials"]) == (28, 210)
    assert found["beam_missed"]["rate_low"] < 2 / 15 < found["beam_missed"]["rate_high"]
    assert found["both_missed"]["chapman"] == 0.0
    assert [one["name"] for one in found["checked"]] == ["camera", "beam", "both"]
    assert found["checked"][1]["bags_wrong"]["errors"] == 14
    assert found["bags_needed"] == 2995 - 14


def test_few_parts_say_nothing_of_what_neither_saw(stored: list[Path]) -> None:
    assert pooled(*stored[:13])["both_missed"] is None
    text = call("pool", *stored[:13]).out
    assert "at least 200 parts are needed, here are 195" in text
    assert "missed 26 of the 195 that the camera saw" in text


def test_the_wanted_rate_may_be_another(stored: list[Path]) -> None:
    assert pooled(*stored, "--one-in", 4)["bags_needed"] == 0
    assert "shown, with 95 % confidence" in call("pool", *stored, "--one-in", 4).out


def test_what_does_not_belong_together_is_refused(stored: list[Path], tmp_path: Path) -> None:
    again = call("pool", stored[0], stored[0])
    assert (again.status, again.out) == (2, "")
    assert "the same run as" in again.err
    other = json.loads(stored[1].read_text(encoding="utf-8"))
    other["outlet"]["sha256"] = "f" * 64
    path = tmp_path / "other.json"
    path.write_text(json.dumps(other), encoding="utf-8")
    answer = call("pool", stored[0], path)
    assert answer.status == 2
    assert "another outlet file" in answer.err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("no JSON", "is no tally"),
        ('{"schema": "viscount.tally/9"}', "schema viscount.tally/9"),
        ('{"schema": "viscount.tally/1"}', "the tally's source"),
    ],
)
def test_what_is_no_tally_is_said(text: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    path.write_text(text, encoding="utf-8")
    answer = call("pool", path)
    assert answer.status == 2
    assert said in answer.err
    assert "Traceback" not in answer.err
