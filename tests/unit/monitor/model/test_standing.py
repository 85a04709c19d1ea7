"""States in words, with what to do."""

from dataclasses import replace

import pytest
from watched import snapshot

from viscount.codes import Code
from viscount.monitor.model.standing import (
    Shape,
    beam_standing,
    camera_standing,
    gate_standing,
)
from viscount.monitor.model.state import counting_state, packing_state
from viscount.packing.actions import About, Say
from viscount.packing.machine import Phase
from viscount.packing.pour import Stage
from viscount.packing.totals import Totals
from viscount.seams import GateState
from viscount.session.messages import BeamNow, Packing

BEAM = BeamNow(linked=True, pulses=3, edges=6, lost=0, waiting=0)
PACKING = Packing(
    says=(),
    record=None,
    phase=Phase.WAITING,
    gate=GateState.IDLE,
    bag=2,
    in_bag=0,
    wanted=6,
    held=1,
    totals=Totals(packed=1),
    ended=False,
)
SAYS = (Say(about=About.WANTS, text="bag 2: put an empty bag in place"),)


def test_a_camera_is_waited_for_seen_late_or_gone() -> None:
    assert camera_standing(None).shape is Shape.WAITS
    assert camera_standing(snapshot(1.0)).shape is Shape.GOOD
    assert "120" in camera_standing(snapshot(1.0)).words
    dropped = camera_standing(snapshot(1.0, dropped=4))
    assert (dropped.shape, dropped.remedy) == (Shape.DOUBT, Code.FRAMES_DROPPED.remedy)
    assert camera_standing(snapshot(1.0, blind_s=0.3)).shape is Shape.DOUBT
    gone = camera_standing(snapshot(1.0, camera="no picture for 2 s"))
    assert (gone.shape, gone.words) == (Shape.BAD, "no picture for 2 s")
    assert gone.remedy == Code.CAMERA_LOST.remedy


def test_a_beam_answers_loses_edges_or_is_silent() -> None:
    assert beam_standing(None).shape is Shape.OFF
    assert beam_standing(BEAM).shape is Shape.GOOD
    assert beam_standing(replace(BEAM, lost=2)).shape is Shape.DOUBT
    silent = beam_standing(replace(BEAM, linked=False))
    assert (silent.shape, silent.remedy) == (Shape.BAD, Code.BOARD_SILENT.remedy)


@pytest.mark.parametrize("state", GateState)
def test_every_state_of_a_gate_has_words(state: GateState) -> None:
    said = gate_standing(replace(PACKING, gate=state))
    assert said.words
    assert (said.shape is Shape.BAD) == (state in (GateState.FAULT, GateState.UNKNOWN))
    assert bool(said.remedy) == (state in (GateState.FAULT, GateState.UNKNOWN, GateState.OPEN))


def test_what_is_wrong_comes_before_what_is_doubted() -> None:
    things = (camera_standing(snapshot(1.0)), beam_standing(replace(BEAM, linked=False)))
    assert counting_state(things, 3, began=True).shape is Shape.BAD
    assert counting_state(things[:1], 3, began=True).word == "3 places to look at"
    assert counting_state(things[:1], 0, began=True).shape is Shape.GOOD
    assert counting_state(things[:1], 0, began=False).shape is Shape.WAITS


def test_packing_says_what_a_person_is_to_do() -> None:
    asked = packing_state(PACKING, SAYS, ())
    assert (asked.word, asked.sentence) == ("put a bag in place", SAYS[0].text)
    pouring = replace(PACKING, phase=Stage.POURING, gate=GateState.OPEN)
    assert "counts to 6" in packing_state(pouring, SAYS, ()).sentence
    settling = replace(PACKING, phase=Stage.SETTLING)
    assert SAYS[0].text not in packing_state(settling, SAYS, ()).sentence
    look = packing_state(replace(PACKING, phase=Phase.ATTENTION), SAYS, ())
    assert look.shape is Shape.DOUBT
    fault = gate_standing(replace(PACKING, gate=GateState.FAULT))
    assert packing_state(PACKING, SAYS, (fault,)).shape is Shape.BAD
    ended = packing_state(replace(PACKING, phase=Phase.ENDED, ended=True), SAYS, (fault,))
    assert ended.word == "packing has ended"
