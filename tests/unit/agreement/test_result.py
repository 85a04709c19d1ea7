"""The result: count, range, status and reasons from passages and notices."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from viscount.agreement.result import CONFIDENCE, pours_of, result
from viscount.codes import Code
from viscount.values import Basis, Direction, Level, Notice, Passage, Status


def passage(t_s: float = 0.0, *, parts: int = 1, doubt: float = 0.0, up: bool = False) -> Passage:
    return Passage(
        id=1,
        t_ns=round(t_s * 1e9),
        sigma_ns=1000,
        direction=Direction.AGAINST if up else Direction.WITH,
        basis=Basis.INTERPOLATED,
        speed_px_s=100.0,
        across_px=1.0,
        length_px=10.0,
        parts=parts,
        doubt=doubt,
        first_frame=0,
        last_frame=1,
    )


def test_sure_passages_are_clean_and_exact():
    found = result([passage(k) for k in range(60)], (), 0)
    assert (found.count, found.low, found.high) == (60, 60, 60)
    assert found.status is Status.CLEAN
    assert found.reasons == ()


def test_what_goes_back_up_is_taken_off():
    found = result([passage(0), passage(1), passage(2, up=True)], (), 0)
    assert found.count == 1


def test_one_doubt_in_twenty_is_not_clean_and_names_the_place():
    found = result([passage(k) for k in range(9)] + [passage(9.25, doubt=0.06)], (), 0)
    assert found.status is Status.DOUBTFUL
    (reason,) = found.reasons
    assert reason.code is Code.PASSAGES_UNSURE
    assert "look at 1 place: 9.250 s" in reason.text


def test_a_passage_of_no_parts_can_only_add():
    found = result([passage(0), passage(1, parts=0, doubt=0.3)], (), 0)
    assert (found.count, found.low, found.high) == (1, 1, 2)


def test_invalid_and_doubtful_notices():
    doubt = Notice(level=Level.DOUBT, code=Code.FRAMES_LOST, text="a gap")
    bad = Notice(level=Level.INVALID, code=Code.TOO_FEW_SIGHTINGS, text="too few")
    info = Notice(level=Level.INFO, code=Code.CAPTURE_RATE_TAG, text="a tag")
    assert result([passage()], (info,), 0).status is Status.CLEAN
    assert result([passage()], (info, doubt), 0).status is Status.DOUBTFUL
    found = result([passage()], (doubt, bad), 0)
    assert found.status is Status.INVALID
    assert [r.code for r in found.reasons] == [Code.FRAMES_LOST, Code.TOO_FEW_SIGHTINGS]


@settings(max_examples=60, deadline=None)
@given(
    doubts=st.lists(st.floats(0, 0.9), min_size=1, max_size=12),
    parts=st.data(),
)
def test_the_range_holds_the_truth_as_often_as_it_says(doubts: list[float], parts: st.DataObject):
    passages = [
        passage(k, doubt=d, parts=parts.draw(st.integers(0, 2)), up=parts.draw(st.booleans()))
        for k, d in enumerate(doubts)
    ]
    found = result(passages, (), 0)
    rng = np.random.default_rng(1)
    total = np.zeros(20_000)
    for p in passages:
        draw = rng.random(total.size)
        more = (
            np.where(draw < p.doubt, 1, 0)
            if p.parts == 0
            else (np.where(draw < p.doubt / 2, -1, np.where(draw < p.doubt, 1, 0)))
        )
        total += (p.parts + more) * (-1 if p.direction is Direction.AGAINST else 1)
    held = np.mean((found.low <= total) & (total <= found.high))
    assert held >= CONFIDENCE - 0.01
    assert found.low <= found.count <= found.high


def test_pours_end_after_the_quiet_time():
    passages = [passage(t) for t in (0.0, 0.5, 1.4, 2.5, 2.6)]
    assert [len(p) for p in pours_of(passages, 1_000_000_000)] == [3, 2]
    assert pours_of([], 10) == []


@pytest.mark.parametrize("places", [2, 9])
def test_no_more_than_a_few_places_are_listed(places: int):
    found = result([passage(k, doubt=0.2) for k in range(places)], (), 0)
    text = found.reasons[0].text
    assert f"look at {places} places" in text
    assert text.count(" s") <= 6 + text.count("passages") + text.count("places")


@pytest.mark.parametrize(
    ("level", "code", "low", "high"),
    [
        (Level.DOUBT, Code.PATHS_UNLIKELY, 36, 150),
        (Level.DOUBT, Code.PARTS_MERGED, 54, 120),
        (Level.INFO, Code.PARTS_MERGED, 60, 60),
        (Level.DOUBT, Code.PARTS_BESIDE_VIEW, 60, 90),
        (Level.DOUBT, Code.FRAMES_LOST, 60, 60),
    ],
)
def test_what_is_wrong_with_all_paths_widens_the_range(
    level: Level, code: Code, low: int, high: int
):
    notice = Notice(level=level, code=code, text="as found")
    found = result([passage(k) for k in range(60)], (notice,), 0)
    assert (found.count, found.low, found.high) == (60, low, high)
