"""What many pours come to."""

import io
import json
from dataclasses import asdict, replace

import numpy as np
import pytest
from benchmarks.accuracy.summary import share
from benchmarks.pours.figures import all_figures, faults, mode_figures
from benchmarks.pours.pour import Pour
from benchmarks.pours.table import show
from rich.console import Console

from viscount.values import Status

DOUBTFUL = {"status": Status.DOUBTFUL, "low": 18, "high": 21}
WRONG = {"count": 19, "low": 19, "high": 19}
HARD = {"separable": False}
HIDDEN = {"separable": False, "hidden": 2}
INVALID = {"status": Status.INVALID, "count": None, "low": 0, "high": 40}


def mixed(pour) -> list[Pour]:
    """Ten separable pours, four that are not, and three with a part that no frame showed."""
    return [
        *(pour(seed) for seed in range(1, 7)),
        pour(7, **DOUBTFUL, reasons=("blurred", "shaken")),
        pour(8, **DOUBTFUL, reasons=("shaken",), count=22),
        pour(9, **INVALID, reasons=("shaken", "clock")),
        pour(10, **WRONG),
        pour(11, **HARD),
        pour(12, **HARD, **WRONG),
        pour(13, **HARD, **DOUBTFUL, count=20),
        pour(14, **HARD, **DOUBTFUL, count=19),
        pour(15, **HIDDEN, **WRONG),
        pour(16, **HIDDEN, **WRONG),
        pour(17, **HIDDEN),
    ]


def test_limits_are_those_of_clopper_and_pearson() -> None:
    # scipy, docstring of BinomTestResult.proportion_ci: 7 of 50.
    assert share(7, 50).limits == pytest.approx((0.05819170033997342, 0.26739600249700846))


@pytest.mark.parametrize("n", [100, 300, 2000])
def test_a_zero_is_bounded_by_the_rule_of_three(pour, n: int) -> None:
    # 3/n: Hanley and Lippman-Hand, 1983; from memory.
    found = mode_figures([pour(seed) for seed in range(n)], "full").separable("clean, wrong")
    assert (found.number, found.of) == (0, n)
    assert found.upper == pytest.approx(3 / n, rel=0.02)


def test_each_group_is_added_up(pour) -> None:
    found = mode_figures(mixed(pour), "full")
    numbers = {
        group: {name: one.number for name, one in outcomes.items()} | {"of": found.right[group].of}
        for group, outcomes in found.outcomes.items()
    }
    assert numbers == {
        "separable": {
            "clean, exact": 6,
            "clean, wrong": 1,
            "doubtful": 2,
            "invalid": 1,
            "of": 10,
        },
        "not separable": {
            "clean, exact": 1,
            "clean, wrong": 1,
            "doubtful": 2,
            "invalid": 0,
            "of": 4,
        },
        "a part fully hidden": {
            "clean, exact": 1,
            "clean, wrong": 2,
            "doubtful": 0,
            "invalid": 0,
            "of": 3,
        },
    }
    assert {group: one.number for group, one in found.right.items()} == {
        "separable": 7,
        "not separable": 2,
        "a part fully hidden": 1,
    }


def test_the_seeds_to_look_at_are_named(pour) -> None:
    found = mode_figures(mixed(pour), "full")
    assert found.clean_wrong == {
        "separable": [10],
        "not separable": [12],
        "a part fully hidden": [15, 16],
    }
    assert found.doubtful == [7, 8]
    many = [pour(seed, **DOUBTFUL) for seed in range(40, 0, -1)]
    assert mode_figures(many, "full").doubtful == list(range(1, 21))


def test_reasons_are_those_of_separable_pours_the_commonest_first(pour) -> None:
    pours = [*mixed(pour), pour(20, **HARD, **DOUBTFUL, reasons=("other",))]
    found = mode_figures(pours, "full").reasons
    assert list(found.items()) == [("shaken", 3), ("blurred", 1), ("clock", 1)]


def test_the_range_of_what_is_not_invalid_is_held_against_the_truth(pour) -> None:
    found = mode_figures(mixed(pour), "full").in_range
    # Of 17 one is invalid; 10, 12, 15 and 16 state 19 for 20.
    assert (found.number, found.of) == (12, 16)


def test_doubts_are_grouped_by_what_they_state(pour) -> None:
    stated = [0.0, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 1.0]
    wrong = [False, True, False, False, True, False, True, True, True]
    pours = [
        pour(1, doubts=tuple(zip(stated, wrong, strict=True))),
        pour(2, **INVALID, doubts=((0.02, True),)),
    ]
    found = mode_figures(pours, "full").doubts
    assert [(b.low, b.high, b.passages, b.wrong.number) for b in found] == [
        (0.0, 0.01, 2, 1),
        (0.01, 0.03, 2, 0),
        (0.03, 0.1, 1, 1),
        (0.1, 0.3, 2, 1),
        (0.3, 1.0, 2, 2),
    ]
    assert [b.mean_doubt for b in found] == pytest.approx([0.0025, 0.015, 0.05, 0.15, 0.65])
    assert found[0].wrong.limits == share(1, 2).limits


def test_the_order_of_the_pours_changes_nothing(pour) -> None:
    rng = np.random.default_rng(3)
    pours = [
        replace(one, judged=tuple(replace(j, doubts=((rng.random(), False),)) for j in one.judged))
        for one in mixed(pour)
    ]

    def text(order: list[Pour]) -> str:
        plain = {mode: asdict(found) for mode, found in all_figures(order).items()}
        return json.dumps([plain, faults(all_figures(order), order)])

    for _ in range(5):
        assert text([pours[k] for k in rng.permutation(len(pours))]) == text(pours)


@pytest.mark.parametrize(
    ("others", "words"),
    [
        ([], []),
        ([WRONG | HARD, WRONG | HIDDEN, DOUBTFUL | HARD], []),
        ([DOUBTFUL] * 3, []),
        ([DOUBTFUL] * 4, ["of 101 separable 97 clean and exact, 96.04%"]),
        ([INVALID] * 4, ["of 101 separable 97 clean and exact"]),
        ([WRONG], ["1 separable, clean and wrong: seeds 1000"]),
    ],
)
def test_what_is_not_good_enough_is_told_for_each_mode(pour, others: list, words: list) -> None:
    pours = [pour(seed) for seed in range(97)]
    pours += [pour(1000 + k, **changes) for k, changes in enumerate(others)]
    found = faults(all_figures(pours), pours)
    assert len(found) == 2 * len(words)
    for mode in ("full", "bare"):
        assert all(any(f"{mode}: {w}" in one for one in found) for w in words)


def test_a_fault_in_one_mode_is_a_fault(pour) -> None:
    full, _ = pour(1).judged
    _, bare = pour(1, **WRONG).judged
    pours = [*(pour(seed) for seed in range(2, 60)), replace(pour(1), judged=(full, bare))]
    assert faults(all_figures(pours), pours) == ["bare: 1 separable, clean and wrong: seeds 1"]


def test_nothing_separable_shows_nothing(pour) -> None:
    pours = [pour(1, **HARD)]
    assert faults(all_figures(pours), pours) == [
        "full: no separable pour, so nothing is shown",
        "bare: no separable pour, so nothing is shown",
    ]
    assert len(faults(all_figures([]), [])) == 2


def test_a_broken_pour_is_a_fault(pour) -> None:
    pours = [pour(1), Pour(seed=2, seconds=0.1, broken="ZeroDivisionError: division by zero")]
    assert faults(all_figures(pours), pours) == ["1 broke: seeds 2"]


def test_the_tables_name_what_was_found(pour) -> None:
    written = io.StringIO()
    console = Console(file=written, width=160)
    show(all_figures(mixed(pour)), console)
    show(all_figures([]), console)
    text = written.getvalue()
    assert "separable, clean and exact: 6 of 10, 60.00% (95 % limits 26.24% to 87.84%)" in text
    assert "clean and wrong, a part fully hidden: seeds 15, 16" in text
    assert "why separable pours were not clean: shaken 3, blurred 1, clock 1" in text
