"""What a run tells becomes what is shown, in memory that does not grow."""

import pytest
from tallies import tally
from watched import (
    FPS,
    LENGTH,
    OUTLET,
    SPEED,
    began,
    passage,
    passed,
    pulse,
    pulsed,
    snapshot,
    taken,
)

from viscount.codes import Code
from viscount.errors import SourceError
from viscount.monitor.model.facts import Facts, needed_by_order, needed_by_strokes
from viscount.monitor.model.monitor import Monitor, Picture
from viscount.monitor.model.standing import Shape
from viscount.monitor.model.strip import Strip
from viscount.packing.actions import About, Say
from viscount.packing.order import PackOrder, Way
from viscount.packing.record import BagRecord, Result
from viscount.packing.totals import Totals
from viscount.session.messages import Ended, Failed, Packing, Timing, Told
from viscount.values import Level, Notice, Pairs

TIMING = Timing(
    work_p50_s=0.0,
    work_p99_s=0.0,
    work_most_s=0.0,
    age_p50_s=0.0,
    age_p99_s=0.0,
    age_most_s=0.0,
)
BEAM_PX = 120.0
WAY_S = (BEAM_PX - 80.0 - LENGTH / 2) / SPEED


def monitor(**more: object) -> Monitor:
    made = Monitor(Facts(title="test", outlet=OUTLET, **more))  # type: ignore[arg-type]
    made.take(began(beam_px=BEAM_PX))
    return made


def poured(model: Monitor, times: list[float], missed: frozenset[int] = frozenset()) -> None:
    """Tell of a pour as an engine would, and of two quiet seconds behind it."""
    for k, t_s in enumerate(times):
        model.take(passed(passage(k, t_s)))
        if k not in missed:
            model.take(pulsed(pulse(k, t_s + WAY_S)))
        model.take(snapshot(t_s + 0.15, k + 1, k + 1 - len([m for m in missed if m <= k])))
    for k in range(20):
        model.take(snapshot(times[-1] + 0.2 + 0.1 * k, len(times), len(times) - len(missed)))


TIMES = [1.0, 1.052, 1.11, 1.17, 1.215, 1.28, 1.33, 1.401, 1.45, 1.52]


def test_it_waits_then_counts_then_ends() -> None:
    model = Monitor(Facts(title="test", expected=3))
    assert model.state.shape is Shape.WAITS
    assert model.numbers.wanted == 3
    model.take(began())
    model.take(snapshot(1.0, 2))
    assert (model.numbers.in_bag, model.numbers.camera, model.numbers.beam) == (2, 2, None)
    assert model.state.shape is Shape.GOOD
    model.take(Ended(tally=tally(), timing=TIMING))
    assert (model.state.word, model.numbers.in_bag) == ("clean", 3)
    assert model.over
    assert {one.shape for one in model.things} == {Shape.OFF}


def test_a_run_that_breaks_off_says_why() -> None:
    model = monitor()
    model.take(Failed(error=SourceError("the camera is gone", where="0")))
    assert model.state.shape is Shape.BAD
    assert "the camera is gone" in model.state.sentence
    lost = monitor()
    lost.lost()
    assert lost.state.word == "no answer"


def test_a_pour_is_paired_when_it_is_over_and_not_before() -> None:
    model = monitor(has_beam=True)
    for k, t_s in enumerate(TIMES):
        model.take(passed(passage(k, t_s)))
        model.take(pulsed(pulse(k, t_s + WAY_S)))
        model.take(snapshot(t_s + 0.15, k + 1, k + 1))
    assert model.trains.sizes == (10, 10, 0)
    assert not model.settled
    poured(model := monitor(has_beam=True), TIMES)
    assert model.trains.sizes == (10, 10, 10)
    links = model.trains.within(0.9, 1.6).links
    assert {link.pairing.kind for link in links} == {Pairs.AGREED}
    assert model.settled
    assert len(model.doubts) == 0


def test_a_pour_of_which_values_were_missed_is_not_paired_but_the_next_is() -> None:
    model = monitor(has_beam=True)
    model.miss(3)
    poured(model, TIMES, frozenset({4}))
    assert model.trains.sizes[2] == 0
    assert len(model.doubts) == 0
    model.miss(3)
    poured(model, [t + 10.0 for t in TIMES])
    assert model.trains.sizes[2] == 10


def test_a_part_that_the_beam_missed_is_to_be_looked_at_with_its_pictures() -> None:
    model = monitor(has_beam=True)
    for k in range(round(1.9 * FPS)):
        model.saw([taken(k, TIMES)])
    poured(model, TIMES, frozenset({4}))
    (doubt,) = [one for one in model.doubts if one.level is Level.DOUBT]
    assert doubt.title.startswith("camera only")
    assert doubt.t_s == pytest.approx(TIMES[4], abs=1e-6)
    shown = model.proof(doubt)
    assert len(shown) > 8
    assert min(one.t_s for one in shown) < TIMES[4] < max(one.t_s for one in shown)


def test_pictures_of_a_doubtful_passage_are_kept() -> None:
    model = monitor()
    for k in range(120):
        model.saw([taken(k, [0.8])])
    model.take(passed(passage(1, 0.8, doubt=0.3), passage(2, 0.82)))
    (doubt,) = model.doubts
    indices = [one.index for one in model.proof(doubt)]
    assert indices[0] < 0.8 * FPS < indices[-1]
    assert model.picture is not None
    assert model.picture.index == 119


def test_a_notice_becomes_a_line_with_its_time() -> None:
    model = monitor()
    model.take(snapshot(3.0, 0))
    model.take(Told(notice=Notice(level=Level.DOUBT, code=Code.CAMERA_LOST, text="gone")))
    (doubt,) = model.doubts
    assert (doubt.t_s, doubt.remedy) == (3.0, Code.CAMERA_LOST.remedy)
    assert model.state.word == "1 place to look at"


def packing(bag: int, in_bag: int, **more: object) -> Packing:
    chosen: dict[str, object] = {
        "says": (),
        "record": None,
        "phase": "pouring",
        "gate": "open",
        "bag": bag,
        "in_bag": in_bag,
        "wanted": 6,
        "held": 1,
        "totals": Totals(packed=bag - 1),
        "ended": False,
    }
    return Packing(**(chosen | more))  # type: ignore[arg-type]


def test_packing_shows_the_bag_and_what_is_wrong_with_it() -> None:
    model = monitor(has_beam=True, packs=True)
    model.take(snapshot(1.0, 9, 9))
    model.take(packing(2, 3))
    numbers = model.numbers
    assert (numbers.in_bag, numbers.wanted, numbers.held) == (3, 6, 1)
    assert (numbers.label, numbers.bag) == ("in the bag", "bag 2; 1 good so far")
    record = BagRecord(
        bag=2,
        pours=1,
        result=Result.OVER,
        wanted=6,
        in_bag=7,
        held=0,
        beam=7,
        camera=7,
        reasons=(),
        part="nut",
    )
    say = Say(about=About.WANTS, text="set bag 2 aside")
    model.take(packing(2, 7, record=record, phase="waiting for a person", says=(say,)))
    assert model.state.sentence == "set bag 2 aside"
    assert [one.title for one in model.doubts] == ["bag 2: over 1"]
    model.take(packing(0, 0))
    assert model.numbers.bag.startswith("check pour")


def test_the_gate_needs_what_its_strokes_take() -> None:
    way = Way(least_us=1, most_us=2, reach_us=8000, shut_us=18001)
    assert needed_by_order(PackOrder(each=6, bags=1, way=way)) == pytest.approx(10.001)
    assert needed_by_order(PackOrder(each=6, bags=1, below_blade=True)) is None
    assert needed_by_order(None) is needed_by_strokes(None) is None


def test_six_hours_leave_no_more_behind_than_the_first_hour() -> None:
    """A part every second, a doubt every ten, a picture every second, for 21,600 s."""
    model = monitor(has_beam=True)
    assert model.scenery is not None
    model.strip = Strip(model.scenery, 4 << 20)
    sizes: list[int] = []
    blank = taken(0, []).pixels
    for second in range(21_600):
        unsure = 0.3 if second % 10 == 0 else 1e-5
        model.saw([Picture(index=second, t_s=float(second), pixels=blank)])
        model.take(passed(passage(second, second, doubt=unsure)))
        model.take(pulsed(pulse(second, second)))
        model.take(snapshot(second + 1.0, second + 1, second + 1))
        if second % 1800 == 1799:
            sizes.append(model.nbytes)
    assert model.numbers.in_bag == 21_600
    assert max(model.trains.sizes) <= 4096
    assert len(model.doubts) == 300
    assert model.doubts.dropped == 2160 - 300
    assert len(model._passages) + len(model._pulses) <= 2 * 1600
    assert sizes[-1] == sizes[2]
    assert model.trains.counted_before(21_590.5) == 21_591
