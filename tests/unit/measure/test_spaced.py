"""The spacing of several tallies, apart and pooled."""

from dataclasses import replace

import numpy as np
import pytest
from counting import outlet
from pours import LIP, column
from tallies import SET_UP, passage, tally

from viscount.codes import Code
from viscount.measure.spaced import Given, Spaced, spaced
from viscount.outlet import Outlet
from viscount.tally import Reason, Tally
from viscount.values import Status

G = 9806.65
FALLS = outlet(
    motion={"kind": "free_fall"},
    view={"scale_px_per_mm": 4.0, "lip_px": 80.0 + 4.0 * LIP.below_line},
    beam={"below_lip_mm": 20.0},
    gate={"below_lip_mm": 160.0},
    part={"shape": "screw", "stack_pitch_mm": 5.5},
)
FALLING = replace(SET_UP, acceleration_px_s2=4.0 * G)


def counted(made: Tally | None = None, *, pour: int = 1, **changes: object) -> Tally:
    """The tally of a column as the camera saw it."""
    one = column(20).poured
    passages = [
        replace(
            passage(k, 1.0 + float(one.t_s[k]), speed_px_s=4.0 * float(one.speed[k])), pour=pour
        )
        for k in range(len(one))
    ]
    return tally((), **{"passages": tuple(passages), "set_up": FALLING, **changes})


def names(found: Spaced) -> list[str]:
    return [one.distributions.at.name for one in found.pooled]


def test_every_height_that_the_outlet_tells_and_that_was_asked_for() -> None:
    found = spaced([Given(tally=counted(), outlet=FALLS)], [100.0, 300.0, 100.0])
    assert names(found) == ["line", "lip", "beam", "blade", "given", "given"]
    below = [one.distributions.at.below_lip for one in found.pooled]
    assert below == pytest.approx([105.0, 0.0, 20.0, 160.0, 100.0, 300.0])
    (run,) = found.runs
    assert (run.pours, run.why, run.unknown) == (1, "", ())


def test_no_gap_is_told_where_parts_are_still_in_the_outlet() -> None:
    found = spaced([Given(tally=counted(), outlet=FALLS)])
    by_name = {one.distributions.at.name: one for one in found.pooled}
    assert by_name["lip"].distributions.gap_ms is None
    assert by_name["lip"].smallest_gap is None
    assert by_name["beam"].distributions.gap_ms is not None


def test_heights_that_nothing_tells_are_named() -> None:
    bare = outlet(motion={"kind": "free_fall"})
    found = spaced([Given(tally=counted(), outlet=bare)], [100.0])
    assert names(found) == ["line"]
    assert "100 mm below the lip" in found.runs[0].unknown[0]
    high = spaced([Given(tally=counted(), outlet=FALLS)], [-500.0])
    assert "do not fall from there" in high.runs[0].unknown[0]


def test_runs_are_pooled_and_kept_apart() -> None:
    later = counted(pour=3)
    found = spaced([Given(tally=counted(), outlet=FALLS), Given(tally=later, outlet=FALLS)])
    assert [(one.run, one.pour.number) for one in found.pours] == [(0, 1), (1, 3)]
    line = found.pooled[0]
    assert (line.distributions.pours, line.distributions.pairs) == (2, 38)


def test_the_smallest_gap_of_all_is_named() -> None:
    made = counted()
    close = list(made.passages)
    t_ns = close[12].passage.t_ns - 1_500_000
    close[12] = replace(close[12], passage=replace(close[12].passage, t_ns=t_ns, doubt=0.2))
    odd = replace(made, passages=tuple(close))
    found = spaced([Given(tally=counted(), outlet=FALLS), Given(tally=odd, outlet=FALLS)])
    gap = found.pooled[0].smallest_gap
    assert (gap.run, gap.pour, gap.part) == (1, 1, 12)
    assert gap.t_s == pytest.approx(close[11].passage.t_ns * 1e-9)
    assert gap.doubt == pytest.approx(0.2, abs=0.01)
    own = found.pours[1].heights[0].neighbours
    assert gap.gap_s == np.nanmin(own.gap_s)


def test_pairs_beside_a_clump_are_left_out_and_counted() -> None:
    made = counted()
    clumped = list(made.passages)
    clumped[5] = replace(clumped[5], passage=replace(clumped[5].passage, parts=2))
    found = spaced([Given(tally=replace(made, passages=tuple(clumped)), outlet=FALLS)])
    line = found.pooled[0].distributions
    assert (line.pairs, line.left_out) == (17, 2)


def test_spacing_of_different_units_is_not_pooled_and_intervals_are() -> None:
    in_px = counted(set_up=replace(FALLING, scale_px_per_mm=None))
    bare: Outlet = outlet(motion={"kind": "free_fall"})
    found = spaced([Given(tally=counted(), outlet=FALLS), Given(tally=in_px, outlet=bare)])
    line = found.pooled[0].distributions
    assert (line.unit, line.spacing, line.speed) == (None, None, None)
    assert line.interval_ms is not None


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"status": Status.INVALID, "count": None}, "invalid, nothing of it is used"),
        ({"set_up": None}, "count the recording again"),
        ({"passages": ()}, "no part with the fall"),
        (
            {"reasons": (Reason(code=Code.CAPTURE_RATE_SLOWED, text="slow"),)},
            "its times are refused",
        ),
    ],
)
def test_what_is_not_used_says_why(changes: dict, said: str) -> None:
    found = spaced([Given(tally=counted(**changes), outlet=FALLS)])
    assert found.pours == ()
    assert found.pooled == ()
    assert said in found.runs[0].why


def test_a_doubtful_run_is_used_and_says_so() -> None:
    reason = Reason(code=Code.FRAMES_LOST, text="gap")
    doubtful = counted(status=Status.DOUBTFUL, reasons=(reason,))
    (run,) = spaced([Given(tally=doubtful, outlet=FALLS)]).runs
    assert run.pours == 1
    assert "doubtful, its passages are used" in run.why
    assert Code.FRAMES_LOST.meaning in run.why
