"""Ways to the scale put together, or not."""

import pytest

from viscount.codes import Code
from viscount.measure.scale.budget import Budget, Input
from viscount.measure.scale.way import By, Way, together


def way(by: By, value: float | None, u: float = 0.02, freedom: float = 1e9) -> Way:
    budget = Budget(inputs=(Input(name="all", u=u, freedom=freedom),))
    return Way(by=by, source="x", value=value, budget=budget, what="")


def test_the_surer_one_weighs_more():
    both, notices = together([way(By.GRAVITY, 4.0, 0.01), way(By.PART, 4.04, 0.02)])
    assert notices == ()
    assert both is not None
    # Weights 1/u²: 4 to 1.
    assert both.value == pytest.approx(4.008)
    assert both.budget.u == pytest.approx(0.02 / 5**0.5)
    assert [one.name for one in both.budget.inputs] == ["gravity", "part"]


def test_ways_that_disagree_are_not_averaged():
    both, (notice,) = together([way(By.GRAVITY, 4.0), way(By.RULER, 4.2)])
    assert both is None
    assert notice.code is Code.SCALES_DISAGREE
    assert "4.9 % apart" not in notice.text
    assert "5.0 % apart" in notice.text


def test_few_degrees_of_freedom_allow_more():
    # Student's t for two degrees is 4.3: what would disagree with many agrees with these.
    both, _ = together([way(By.GRAVITY, 4.0), way(By.RULER, 4.09, freedom=2)])
    assert both is not None
    sure, _ = together([way(By.GRAVITY, 4.0), way(By.RULER, 4.09)])
    assert sure is None


def test_one_way_is_itself():
    one = way(By.PART, 3.0)
    both, notices = together([way(By.GRAVITY, None), one])
    assert notices == ()
    assert both is not None
    assert (both.value, both.budget.u) == (3.0, pytest.approx(0.02))
    assert one.interval == pytest.approx((3.0 - 0.0392, 3.0 + 0.0392), abs=1e-4)


def test_no_way_no_scale():
    assert together([way(By.GRAVITY, None)]) == (None, ())


def test_disagreement_names_each_pair_that_is_apart():
    ways = [way(By.GRAVITY, 4.0), way(By.PART, 4.01), way(By.RULER, 5.0)]
    both, notices = together(ways)
    assert both is None
    assert len(notices) == 2
