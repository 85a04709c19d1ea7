"""One pour, told by hand what gate, beam and camera do: what it asks for, what is against it."""

import pytest
from packing_rig import LOOKS, MS, ORDER, OUTLET, order

from viscount.packing.actions import AskOpen, AskReady, AskShut
from viscount.packing.events import (
    BeamEdge,
    BeamLost,
    BeamWhole,
    CameraStands,
    GateDid,
    Said,
    Word,
)
from viscount.packing.evidence import Evidence
from viscount.packing.machine import PackMachine, Phase
from viscount.packing.pour import Pour, Stage
from viscount.seams import Did, GateReport
from viscount.session.pour_pairs import PourPairs

LONGEST_NS, SETTLE_NS = 1000 * ORDER.longest_pulse_us, ORDER.settle_ns


class Told:
    """A pour, and the time that its events bear."""

    def __init__(self) -> None:
        self.pour = Pour(0, ORDER, 6, Evidence())
        self.now_ns = 0

    def after(self, ns: int, event: object = None) -> "Told":
        self.now_ns += ns
        self.pour.step(self.now_ns, event)  # type: ignore[arg-type]
        return self

    def gate(self, did: Did, cause: str = "") -> "Told":
        report = GateReport(heard_ns=self.now_ns, did=did, device_t_us=1000, cause=cause, count=0)
        return self.after(MS, GateDid(report=report))

    def beam(self, blocked: bool) -> "Told":
        t_us = self.now_ns // 1000
        return self.after(MS, BeamEdge(heard_ns=self.now_ns, device_t_us=t_us, blocked=blocked))

    def camera(self, final_ns: int) -> "Told":
        return self.after(0, CameraStands(final_ns=final_ns, blind_s=0.0))

    def whole(self) -> "Told":
        return self.after(0, BeamWhole(heard_ns=self.now_ns, device_t_us=0))

    @property
    def asked(self) -> list[type]:
        return [type(one) for one in self.pour.out if isinstance(one, AskReady | AskOpen | AskShut)]

    @property
    def against(self) -> str:
        return "; ".join(self.pour.evidence.reasons)


def pouring() -> Told:
    told = Told().gate(Did.READIED).gate(Did.OPENED)
    assert (told.pour.stage, told.asked) == (Stage.POURING, [AskReady, AskOpen])
    return told


def test_a_beam_that_stays_dark_for_longer_than_any_part_is_a_jam() -> None:
    told = pouring().beam(blocked=True).after(LONGEST_NS)
    assert (told.pour.stage, told.against) == (Stage.POURING, "")
    told.after(1)
    assert told.asked[-1] is AskShut
    assert "jam: the beam is blocked" in told.against


def test_a_beam_that_was_light_in_between_is_none() -> None:
    told = pouring()
    for _ in range(3):
        told.beam(blocked=True).after(LONGEST_NS - 2 * MS).beam(blocked=False)
    assert (told.pour.stage, told.against) == (Stage.POURING, "")


@pytest.mark.parametrize("stage", [Stage.READYING, Stage.SETTLING])
def test_a_gate_that_opens_where_nobody_asked_is_shut_and_told(stage: Stage) -> None:
    told = Told() if stage is Stage.READYING else pouring().gate(Did.SHUT, "count")
    assert told.pour.stage is stage
    told.gate(Did.OPENED)
    assert told.asked[-1] is AskShut
    assert told.against == "the gate opened unasked"


@pytest.mark.parametrize("readied", [False, True])
def test_a_part_that_passes_before_the_gate_is_open_is_against_it(readied: bool) -> None:
    told = Told()
    if readied:
        told.gate(Did.READIED)
    told.beam(blocked=True)
    assert told.against == "a part passed before the gate was open"


def test_edges_that_are_lost_are_against_it() -> None:
    told = pouring().after(MS, BeamLost(heard_ns=0, edges=2))
    assert told.against == "2 edges of the beam were lost"


def shut() -> Told:
    told = pouring().gate(Did.SHUT, "count")
    assert told.pour.stage is Stage.SETTLING
    return told


def test_it_has_settled_once_beam_and_camera_have_told_of_the_time_behind() -> None:
    told = shut()
    at_ns = told.now_ns
    told.after(SETTLE_NS - MS).whole().camera(told.now_ns)
    assert told.pour.stage is Stage.SETTLING, "too early"
    told.after(MS)
    assert (told.pour.stage, told.against) == (Stage.SETTLED, "")
    assert told.now_ns == at_ns + SETTLE_NS


@pytest.mark.parametrize("silent", ["the beam's board", "the camera"])
def test_it_waits_for_both_and_then_says_who_told_nothing(silent: str) -> None:
    """What either said before the gate had been shut for a while is of no use."""
    told = shut().whole().camera(0)
    told.after(SETTLE_NS)
    if silent == "the camera":
        told.whole()
    else:
        told.camera(told.now_ns)
    told.after(ORDER.patience_ns - MS)
    assert (told.pour.stage, told.against) == (Stage.SETTLING, "")
    told.after(MS)
    assert told.pour.stage is Stage.SETTLED
    assert told.against == f"{silent} did not tell what came in the end"


def test_an_edge_asks_for_another_total_behind_it() -> None:
    told = shut().after(SETTLE_NS - MS).whole().camera(10**12)
    told.beam(blocked=True).beam(blocked=False)
    assert told.pour.stage is Stage.SETTLING
    told.whole()
    assert told.pour.stage is Stage.SETTLED


@pytest.mark.parametrize("held", [1, 2])
def test_a_bag_that_what_is_held_would_fill_is_not_poured(held: int) -> None:
    machine = PackMachine(order(each=1), PourPairs(OUTLET, lambda: LOOKS))
    machine.begin()
    machine.held = held
    actions = machine.step(0, Said(word=Word.BAG))
    assert machine.phase is Phase.ATTENTION
    assert not any(isinstance(one, AskReady) for one in actions)
    assert f"{held} parts lie on the blade, and 1 are wanted" in actions[0].text  # type: ignore[union-attr]
