"""``viscount spacing``: its JSON, its text, its plot and what it refuses, as others meet them."""

import json
from pathlib import Path
from typing import Any

import cv2
import pytest
from commands import FIXTURES, Answer, call

CLIP = FIXTURES / "screws" / "clip.mp4"
OUTLET = FIXTURES / "screws" / "outlet.yaml"
OF_RUN = {
    "run",
    "source",
    "stored",
    "outlet",
    "part",
    "status",
    "count",
    "reasons",
    "pours_used",
    "why",
    "unknown_heights",
}
OF_POOLED = {
    "at",
    "below_lip_mm",
    "below_line_mm",
    "below_line_px",
    "below_line_u95_mm",
    "below_line_u95_px",
    "pours",
    "pairs",
    "pairs_left_out",
    "interval_ms",
    "spacing_mm",
    "spacing_px",
    "gap_ms",
    "speed_mm_s",
    "speed_px_s",
    "smallest_gap",
}
OF_PART_THERE = {
    "at",
    "below_lip_mm",
    "time_s",
    "speed_mm_s",
    "speed_px_s",
    "speed_u95_mm_s",
    "speed_u95_px_s",
    "interval_ms",
    "interval_u95_ms",
    "spacing_mm",
    "spacing_px",
    "spacing_u95_mm",
    "spacing_u95_px",
    "gap_ms",
    "gap_u95_ms",
}


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A tally of the fixture's clip."""
    path = tmp_path_factory.mktemp("stored") / "tally.json"
    counted = call("count", CLIP, "--outlet", OUTLET, "--json")
    path.write_text(counted.out, encoding="utf-8")
    return path


def strict(answer: Answer) -> dict[str, Any]:
    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in the JSON")

    return json.loads(answer.out, parse_constant=refuse)


def test_keys_and_units(stored: Path) -> None:
    answer = call("spacing", stored, "--json", "--at", 150)
    assert (answer.status, answer.err) == (0, "")
    found = strict(answer)
    assert set(found) == {"schema", "made_by", "confidence", "runs", "pooled", "pours"}
    assert (found["schema"], found["confidence"]) == ("viscount.spacing/1", 0.95)
    assert set(found["runs"][0]) == OF_RUN
    assert all(set(one) == OF_POOLED for one in found["pooled"])
    (pour,) = found["pours"]
    assert pour["parts"] == len(pour["each"]) == 12
    assert set(pour["each"][0]["at"][0]) == OF_PART_THERE
    assert "given" in [one["at"] for one in found["pooled"]]
    for one in pour["each"]:
        for there in one["at"]:
            assert (there["speed_mm_s"] is None) != (there["speed_px_s"] is None)
            assert (there["interval_ms"] is None) == (one["part"] == 1)


def test_a_clip_and_its_stored_tally_say_the_same(stored: Path) -> None:
    of_clip = strict(call("spacing", CLIP, "--outlet", OUTLET, "--json"))
    of_tally = strict(call("spacing", stored, "--json"))
    assert of_clip["runs"][0]["stored"] is False
    assert of_tally["runs"][0]["stored"] is True
    for one, other in zip(of_clip["pooled"], of_tally["pooled"], strict=True):
        assert one["at"] == other["at"]
        assert one["interval_ms"] == pytest.approx(other["interval_ms"], abs=1e-3)
        gap = other["gap_ms"]
        assert one["gap_ms"] == (None if gap is None else pytest.approx(gap, abs=1e-3))


def test_the_tallys_own_spacing_is_the_same(stored: Path) -> None:
    tally = json.loads(stored.read_text(encoding="utf-8"))["spacing"]
    line = strict(call("spacing", stored, "--json"))["pooled"][0]
    assert (line["at"], line["pairs"]) == ("line", tally["n"])
    for key in ("interval_ms", "spacing_mm", "gap_ms"):
        assert line[key] == pytest.approx(tally[key], abs=1e-3)


def test_text_names_heights_kind_and_uncertainty(stored: Path) -> None:
    answer = call("spacing", stored, "--at", 150)
    assert answer.status == 0
    for word in (
        "±",
        "150 mm",
        "line",
        "Smallest gap at the line",
        "95 % uncertainties",
        "12 parts",
    ):
        assert word in answer.out, word
    assert "no gap is told where tails are still in the outlet" in " ".join(answer.out.split())
    assert "nan" not in answer.out.lower()
    assert max(len(line) for line in answer.out.splitlines()) <= 80


def test_without_a_scale_lengths_are_px(stored: Path, tmp_path: Path) -> None:
    tally = json.loads(stored.read_text(encoding="utf-8"))
    tally["set_up"]["scale_px_per_mm"] = tally["outlet"] = None
    bare = tmp_path / "bare.json"
    bare.write_text(json.dumps(tally), encoding="utf-8")
    found = strict(call("spacing", bare, "--json", "--at", 150))
    (line,) = found["pooled"]
    assert line["spacing_mm"] is None
    assert line["spacing_px"]["p50"] > 0
    assert found["runs"][0]["unknown_heights"]


def test_a_plot_is_a_picture(stored: Path, tmp_path: Path) -> None:
    place = tmp_path / "plot.png"
    assert call("spacing", stored, stored, "--plot", place).status == 0
    picture = cv2.imread(str(place))
    assert picture.shape[0] > 500
    assert picture.std() > 5.0
    assert [path.name for path in tmp_path.iterdir()] == ["plot.png"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nowhere.json",), "cannot be read"),
        (("nowhere.mp4",), "nowhere.mp4"),
        ((CLIP, "--at", "nan"), "--at"),
        ((CLIP, "--plot", "plot.jpg"), "--plot"),
        ((), "SOURCE_OR_TALLY"),
    ],
)
def test_bad_input_is_refused_with_a_word(words: tuple, said: str) -> None:
    answer = call("spacing", *words)
    assert answer.status == 2
    assert said in answer.err
    assert "Traceback" not in answer.err


def test_an_invalid_run_is_not_used(stored: Path, tmp_path: Path) -> None:
    tally = json.loads(stored.read_text(encoding="utf-8"))
    tally["camera"]["status"] = "invalid"
    path = tmp_path / "invalid.json"
    path.write_text(json.dumps(tally), encoding="utf-8")
    answer = call("spacing", path)
    assert answer.status == 12
    assert "nothing of it is used" in answer.out
    both = call("spacing", path, stored)
    assert both.status == 10
    assert "nothing of it is used" in both.out
