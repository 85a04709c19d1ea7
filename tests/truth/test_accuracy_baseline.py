"""The counting on ready scenes does not fall below what is stored."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from benchmarks.accuracy.baseline import BASELINE, compare, load_baseline, write_baseline
from benchmarks.accuracy.cases import MODES, QUICK, SCENES, ready_cases, write_case
from benchmarks.accuracy.judging import Judgement, Timing, judged, matched
from benchmarks.accuracy.runs import counted
from benchmarks.accuracy.summary import share

from viscount.errors import UsageError
from viscount.values import Status


@pytest.mark.parametrize("name", QUICK)
def test_ready_scene_is_counted_as_well_as_before(name: str, tmp_path: Path) -> None:
    (case,) = ready_cases([SCENES / f"{name}.yaml"])
    files = write_case(case, tmp_path)
    found = [
        judged(case.name, mode, files.known, counted(case, files, mode, rivals=False))
        for mode in MODES
    ]
    assert compare(found, load_baseline()) == []


def stored() -> tuple[Judgement, dict]:
    """A judgement that is just as the baseline says, and the baseline."""
    one = Judgement(
        scene="plain",
        mode="full",
        true=15,
        hidden=0,
        separable=True,
        count=15,
        low=15,
        high=15,
        status=Status.CLEAN,
        reasons=(),
        timing=None,
        ms_per_frame=1.0,
        rivals={},
    )
    figures = {"count": 15, "true": 15, "status": "clean", "rms_ms": None}
    return one, {"plain": {"full": figures}}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"count": 14, "status": Status.DOUBTFUL}, "counts 14, and counted 15"),
        ({"status": Status.DOUBTFUL, "reasons": ("blind",)}, "doubtful (blind), and was clean"),
        ({"count": 14}, "clean and wrong"),
        ({"true": 16}, "the scene has 16 crossings"),
        ({"scene": "other"}, "not in the baseline"),
    ],
)
def test_what_falls_below_is_told(change: dict, words: str) -> None:
    one, baseline = stored()
    assert compare([one], baseline) == []
    assert any(words in told for told in compare([replace(one, **change)], baseline))


@pytest.mark.parametrize(("rms_ms", "falls"), [(0.0144, False), (0.0146, True)])
def test_times_may_be_a_quarter_and_two_microseconds_worse(rms_ms: float, falls: bool) -> None:
    one, baseline = stored()
    baseline["plain"]["full"]["rms_ms"] = 0.01
    timing = Timing(parts=15, rms_ms=rms_ms, normalised=1.0, bound_ratio=None)
    assert bool(compare([replace(one, timing=timing)], baseline)) is falls
    assert compare([one], baseline) == ["plain, full: no crossing time could be matched"]


def test_times_are_matched_to_the_nearest_crossing_past_misses() -> None:
    true_s = np.array([1.0, 1.02, 1.04, 1.06])
    found_s = np.array([1.001, 1.041, 1.059, 1.5])
    assert matched(found_s, true_s) == [(0, 0), (1, 2), (2, 3)]
    assert matched(np.array([]), true_s) == []


def test_a_zero_has_the_limit_of_the_rule_of_three() -> None:
    # Clopper and Pearson for 0 of n, one-sided: 1 - 0.05^(1/n), near 3/n (Hanley and
    # Lippman-Hand, 1983; from memory).
    assert share(0, 100).upper == pytest.approx(1 - 0.05 ** (1 / 100), rel=1e-9)
    assert share(0, 100).upper == pytest.approx(3 / 100, rel=0.02)
    assert share(0, 0).upper is None


def test_a_better_count_is_no_fall() -> None:
    one, baseline = stored()
    baseline["plain"]["full"] |= {"count": 12, "status": "doubtful"}
    assert compare([one], baseline) == []


def test_every_version_of_opencv_has_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, _ = stored()
    path = tmp_path / "baseline.json"
    with pytest.raises(UsageError, match="no baseline is stored"):
        load_baseline(path)
    write_baseline([one], path)
    assert load_baseline(path)["plain"]["full"]["count"] == 15
    monkeypatch.setattr("cv2.__version__", "9.1.0")
    with pytest.raises(UsageError, match="no baseline for OpenCV 9"):
        load_baseline(path)


def test_the_stored_one_covers_all_ready_scenes() -> None:
    whole = json.loads(BASELINE.read_text(encoding="utf-8"))["opencv"]
    assert sorted(whole) == ["4", "5"]
    for scenes in whole.values():
        assert set(scenes) == {path.stem for path in SCENES.glob("*.yaml")}
