"""One pour after another: drawn, judged, broken, side by side."""

import os
from functools import partial
from operator import call

import cv2
import pytest
from benchmarks.accuracy.cases import SPACE, Case
from benchmarks.accuracy.judging import Judgement, Timing
from benchmarks.pours import pour as pouring
from benchmarks.pours.lanes import side_by_side
from benchmarks.pours.pour import Pour, poured

from viscount.errors import SceneError
from viscount.simulate.space import load_space
from viscount.values import Status

QUICKEST = 206
"""Draws a pour of few parts and small pictures."""


def test_a_line_holds_the_whole_pour(pour) -> None:
    one = pour(
        3,
        status=Status.DOUBTFUL,
        count=None,
        reasons=("blind", "clock"),
        timing=Timing(parts=4, rms_ms=0.01, normalised=0.9, bound_ratio=None),
        doubts=((0.25, True), (2e-05, False)),
    )
    assert Pour.from_line(one.line()) == one
    broken = Pour(seed=3, seconds=0.5, broken="a\nb \u2028")
    assert Pour.from_line(broken.line()) == broken
    assert len(broken.line().splitlines()) == 1


def test_the_seed_draws_the_pour(pour, monkeypatch: pytest.MonkeyPatch) -> None:
    met: list[Case] = []

    def judge(case: Case, *, rivals: bool) -> list[Judgement]:
        assert not rivals
        met.append(case)
        return list(pour(41).judged)

    monkeypatch.setattr(pouring, "judge_case", judge)
    found = Pour.from_line(poured(41))
    assert (found.seed, found.judged, found.broken) == (41, pour(41).judged, None)
    assert [case.scene for case in met] == [load_space(SPACE).draw(41)]


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (SceneError("no such part", where="x.yaml"), "SceneError: x.yaml: no such part"),
        (ZeroDivisionError("division by zero"), "ZeroDivisionError: division by zero"),
    ],
)
def test_a_pour_that_raises_is_broken(
    monkeypatch: pytest.MonkeyPatch, error: Exception, words: str
) -> None:
    def judge(case: Case, *, rivals: bool) -> list[Judgement]:
        raise error

    monkeypatch.setattr(pouring, "judge_case", judge)
    found = Pour.from_line(poured(41))
    assert (found.seed, found.judged, found.broken) == (41, (), words)


def test_a_pour_with_a_figure_that_is_no_number_is_broken(
    pour, monkeypatch: pytest.MonkeyPatch
) -> None:
    nan = pour(41, ms_per_frame=float("nan")).judged
    monkeypatch.setattr(pouring, "judge_case", lambda case, *, rivals: nan)
    assert "ValueError" in (Pour.from_line(poured(41)).broken or "")


def test_a_real_pour_is_judged_in_both_modes() -> None:
    ((seed, line),) = side_by_side(poured, [QUICKEST], 1)
    assert line is not None
    found = Pour.from_line(line)
    assert (seed, found.seed) == (QUICKEST, QUICKEST)
    assert found.broken is None
    full, bare = found.judged
    assert (full.mode, bare.mode) == ("full", "bare")
    assert full.true == bare.true > 0
    assert full.doubts
    assert full.rivals == {}


def test_lanes_are_processes_of_one_thread_each() -> None:
    found = list(side_by_side(call, [os.getpid, os.getpid, cv2.getNumThreads], 2))
    numbers = {item: [n for i, n in found if i is item] for item, _ in found}
    assert len({os.getpid(), *numbers[os.getpid]}) == 3
    assert numbers[cv2.getNumThreads] == [1]


def test_a_dead_process_costs_its_own_item_only() -> None:
    dying = partial(os._exit, 3)
    found = list(side_by_side(call, [os.getppid, dying, os.getppid], 1))
    assert found == [(os.getppid, os.getpid()), (dying, None), (os.getppid, os.getpid())]
    assert list(side_by_side(call, [], 2)) == []
