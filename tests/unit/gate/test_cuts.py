"""The whole plan: which numbers, what is promised, and what is said beside it."""

import numpy as np
import pytest
from poured_by_hand import column, drawn_strokes, poured, strokes

from viscount.codes import Code
from viscount.errors import UsageError
from viscount.gate.cuts import MOST_ROWS, plan_cuts
from viscount.gate.limits import low_limit
from viscount.gate.places import Places
from viscount.values import Level

PLACES = Places(beam=-20.0, blade=60.0, lip=-100.0)
GATE = strokes([8.0, 9.0], [11.0, 12.0])


def test_every_number_that_a_pour_can_be_cut_after() -> None:
    pours = [column(5), column(8)]
    rows = plan_cuts(pours, PLACES, GATE).rows
    assert [row.number for row in rows] == list(range(1, 8))
    assert [row.pours for row in rows] == [2, 2, 2, 2, 1, 1, 1]


def test_of_a_long_pour_so_many_numbers_are_told() -> None:
    rows = plan_cuts([poured(0.03 * np.arange(1000), 1500.0)], PLACES, None).rows
    assert len(rows) == MOST_ROWS
    assert (rows[0].number, rows[-1].number) == (1, 999)


def test_one_wanted_number() -> None:
    (row,) = plan_cuts([column(30)], PLACES, GATE, each=12).rows
    assert row.number == 12


@pytest.mark.parametrize(
    ("given", "found"),
    [
        ({"pours": []}, "no pour with two parts"),
        ({"pours": [column(1)]}, "no pour with two parts"),
        ({"each": 30}, "a cut after part 30"),
        ({"each": 0}, "a cut after part 0"),
        ({"rate": 1.0}, "a rate of 1"),
        ({"pours": [column(3), column(3, unit="px")]}, "mm and in px"),
        ({"pours": [column(3, ahead=np.full(3, np.nan))]}, "length along the fall is not known"),
    ],
)
def test_what_makes_no_sense_is_refused(given: dict, found: str) -> None:
    given = {"pours": [column(30)], **given}
    with pytest.raises(UsageError, match=found):
        plan_cuts(given.pop("pours"), PLACES, GATE, **given)


def test_few_pours_promise_nothing_and_say_how_many_it_takes() -> None:
    plan = plan_cuts([column(4, seed=k) for k in range(3)], PLACES, drawn_strokes(40, 1))
    assert plan.largest_expected is not None
    assert plan.largest_promised is None
    (notice,) = plan.notices
    assert (notice.code, notice.level) == (Code.CUT_TOO_FEW, Level.INFO)
    assert "3 pours and 40 strokes; to promise 99 % takes 368 of each" in notice.text


@pytest.mark.parametrize(("pours", "gate"), [(3, 40), (12, 5)])
def test_limits_are_those_of_as_many_trials_as_the_fewer(pours: int, gate: int) -> None:
    made = [column(4, seed=k) for k in range(pours)]
    row = plan_cuts(made, PLACES, drawn_strokes(gate, 1)).rows[0]
    assert row.outcome is not None
    assert row.outcome.exact.estimate == 1.0
    assert row.outcome.exact.low == pytest.approx(low_limit(1.0, min(pours, gate)))


def test_limits_are_taken_where_common_errors_are_at_their_worst() -> None:
    """A blade whose height is known to 4 mm: half of all heights would spoil every cut alike."""
    pours = [poured(0.02 * np.arange(4), 1500.0) for _ in range(60)]
    gate = strokes([5.0] * 60, [15.0] * 60)
    unsure = Places(beam=-20.0, blade=60.0, sigma_blade=4.0)
    row = plan_cuts(pours, unsure, gate, each=2, rate=0.5).rows[0]
    assert row.outcome is not None
    exact = row.outcome.exact
    assert 0.2 < exact.estimate < 0.9
    assert exact.low < 0.05
    assert exact.high > 0.95


def test_enough_pours_and_strokes_promise() -> None:
    pours = [column(3, jitter_s=1e-5, seed=k) for k in range(40)]
    plan = plan_cuts(pours, PLACES, drawn_strokes(40, 1), rate=0.9)
    assert plan.needed == 36
    assert plan.largest_promised == 2
    assert not plan.notices


def test_a_part_in_doubt_ends_the_promise() -> None:
    doubt = np.zeros(4)
    doubt[2] = 0.3
    pours = [column(4, doubt=doubt if k == 5 else np.zeros(4)) for k in range(40)]
    plan = plan_cuts(pours, PLACES, drawn_strokes(40, 1), rate=0.9)
    assert [row.promised for row in plan.rows] == [True, False, False]
    assert [row.expected for row in plan.rows] == [True, True, True]
    (notice,) = plan.notices
    assert (notice.code, notice.level) == (Code.CUT_PARTS_DOUBTED, Level.DOUBT)
    assert "from N = 2 on" in notice.text


def test_edges_that_the_beam_cannot_see_are_told() -> None:
    """At the lip a column's parts touch: no light comes between them."""
    at_lip = Places(beam=-100.0, blade=60.0)
    notices = plan_cuts([column(5)], at_lip, GATE).notices
    found = {n.code: n for n in notices}
    assert found[Code.CUT_EDGE_HIDDEN].level is Level.DOUBT
    assert Code.CUT_EDGE_HIDDEN not in {n.code for n in plan_cuts([column(5)], PLACES).notices}


def test_the_same_input_gives_the_same_plan() -> None:
    pours = [column(6, seed=k, sigma_s=np.full(6, 1e-4)) for k in range(2)]
    first, second = (plan_cuts(pours, PLACES, drawn_strokes(9, 1)).rows for _ in range(2))
    assert first == second
