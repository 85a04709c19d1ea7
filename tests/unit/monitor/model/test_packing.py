"""Bags packed by the real machine with a simulated board, and what its monitor shows of them."""

from filmed_packing import FilmedPacking

from viscount.monitor.model.standing import Shape
from viscount.packing.machine import Phase
from viscount.values import Pairs


def test_a_good_bag_and_a_short_one() -> None:
    packing = FilmedPacking(11)
    model = packing.model
    packing.until(lambda: model.numbers.in_bag == 3)
    assert (model.numbers.bag, model.numbers.wanted) == ("bag 1; 0 good so far", 6)
    assert model.state.word == "pouring"
    packing.until(lambda: packing.rig.machine.phase is Phase.ATTENTION)
    here_ns = packing.rig.now_ns
    packing.until(lambda: packing.rig.now_ns > here_ns + 1_500_000_000)
    assert (model.numbers.in_bag, model.numbers.bag) == (5, "bag 2; 1 good so far")
    assert model.state.shape is Shape.DOUBT
    assert model.state.sentence.startswith("set bag 2 aside")
    (doubt,) = model.doubts
    assert doubt.title == "bag 2: short 1"
    assert len(model.proof(doubt)) > 8
    links = model.trains.within(0.0, 10.0).links
    assert [link.pairing.kind for link in links] == 11 * [Pairs.AGREED]
    # Between the bags there is no gap.
    assert len(model.gaps) == 9
    assert max(model.gaps.intervals_ms()) < 91
