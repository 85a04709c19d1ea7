"""Pours in which parts hide one another: those alone are counted, and what is wrong is printed."""

from collections.abc import Iterator
from dataclasses import replace
from types import SimpleNamespace

import pytest
from benchmarks import bench_hard_pours
from benchmarks.bench_hard_pours import HIDDEN, main, poured_if_hard


@pytest.mark.parametrize(
    ("with_outlet", "bare", "counted"),
    [(True, True, False), (True, False, True), (False, False, True)],
)
def test_only_pours_that_are_not_separable_in_both_modes_are_counted(
    with_outlet: bool, bare: bool, counted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    truth = SimpleNamespace(separable=SimpleNamespace(with_outlet=with_outlet, bare=bare))
    monkeypatch.setattr(bench_hard_pours, "simulate", lambda _: SimpleNamespace(truth=truth))
    monkeypatch.setattr(bench_hard_pours, "poured", lambda seed: f"pour {seed}")
    assert poured_if_hard(7) == ("pour 7" if counted else "")


@pytest.mark.parametrize(("hidden", "status"), [(0, 1), (1, 0)])
def test_what_is_clean_and_wrong_is_printed_unless_a_part_was_hidden(
    hidden: int, status: int, pour, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    def some(_work: object, items: range, _lanes: int) -> Iterator[tuple[int, str | None]]:
        right, wrong, separable = items
        yield right, pour(right).line()
        bad = tuple(replace(one, count=one.true - 1, hidden=hidden) for one in pour(wrong).judged)
        yield wrong, replace(pour(wrong), judged=bad).line()
        yield separable, ""

    monkeypatch.setattr(bench_hard_pours, "side_by_side", some)
    assert main(["--pours", "3", "--seed", "70"]) == status
    printed = capsys.readouterr().out
    assert "seed 70" in printed
    assert ("71 full" in printed) is (status == 1)
    assert (HIDDEN in printed) is (status == 0)
    assert "1 separable" in printed


def test_a_pour_that_broke_is_printed_and_fails_the_run(monkeypatch, capsys) -> None:
    monkeypatch.setattr(bench_hard_pours, "side_by_side", lambda *_: [(70, None)])
    assert main(["--pours", "1", "--seed", "70"]) == 1
    assert "70: died" in capsys.readouterr().out
