"""The list of what to look at."""

from dataclasses import replace

import pytest
from watched import passage

from viscount.codes import Code
from viscount.monitor.model.doubts import Doubts, differs
from viscount.packing.record import BagRecord, Result
from viscount.tally import Reason
from viscount.values import Level, Notice, Pairing, Pairs

RECORD = BagRecord(
    bag=3,
    pours=1,
    result=Result.SHORT,
    wanted=6,
    in_bag=5,
    held=0,
    beam=5,
    camera=5,
    reasons=("nothing came any more",),
    part="nut",
)


def pairing(kind: Pairs, **more: object) -> Pairing:
    chosen: dict[str, object] = {"passages": (1,), "pulses": (), "parts": 1, "doubt": 0.02}
    return Pairing(kind=kind, **(chosen | more))  # type: ignore[arg-type]


def test_a_sure_passage_is_no_doubt_and_an_unsure_one_has_its_frames() -> None:
    doubts = Doubts()
    made = doubts.passed([passage(1, 1.0), passage(2, 1.1, doubt=0.2, parts=2)])
    assert [one.title for one in made] == ["camera unsure: counted as 2 parts"]
    assert made[0].t_s == pytest.approx(1.1)
    assert made[0].frames == (126, 138)
    assert "20 %" in made[0].detail
    assert made[0].remedy


def test_a_notice_comes_with_its_remedy_and_only_once() -> None:
    doubts = Doubts()
    notice = Notice(level=Level.DOUBT, code=Code.FRAMES_LOST, text="gap 40 ms")
    (one,) = doubts.told(notice, 2.0)
    assert (one.title, one.remedy) == (Code.FRAMES_LOST.meaning, Code.FRAMES_LOST.remedy)
    assert doubts.told(notice, 2.0) == []
    reason = Reason(code=Code.FRAMES_LOST, text="gap 40 ms")
    assert len(doubts.reasoned([reason, reason], Level.DOUBT)) == 1
    assert len(doubts) == 2


@pytest.mark.parametrize("kind", [k for k in Pairs if k not in (Pairs.AGREED, Pairs.SPLIT_PULSE)])
def test_counters_that_differ_are_told(kind: Pairs) -> None:
    doubts = Doubts()
    (one,) = doubts.paired([pairing(kind)], {1: passage(1, 1.0)})
    assert one.level is Level.DOUBT
    assert one.frames == (114, 126)
    (other,) = Doubts().paired([pairing(kind, excused=True)], {})
    assert other.level is Level.INFO


def test_where_they_agree_only_doubt_is_told_and_nothing_twice() -> None:
    assert not differs(pairing(Pairs.AGREED, doubt=1e-4))
    assert differs(pairing(Pairs.AGREED))
    unsure = passage(1, 1.0, doubt=0.02)
    doubts = Doubts()
    doubts.passed([unsure])
    assert doubts.paired([pairing(Pairs.AGREED)], {1: unsure}) == []
    assert not differs(pairing(Pairs.CAMERA_ONLY, parts=0))


def test_a_bag_that_is_not_good_is_to_be_looked_at() -> None:
    doubts = Doubts()
    (one,) = doubts.bagged(RECORD, 5.0)
    assert one.title == "bag 3: short 1"
    assert "nothing came any more" in one.detail
    assert doubts.bagged(replace(RECORD, result=Result.GOOD, in_bag=6), 6.0) == []


def test_the_oldest_give_way_and_are_counted() -> None:
    doubts = Doubts(most=10)
    for k in range(50):
        doubts.passed([passage(k, 1.0 + k, doubt=0.1)])
    assert len(doubts) == 10
    assert doubts.dropped == 40
    assert [one.number for one in doubts] == list(range(41, 51))
    assert len(doubts._known) == 10
