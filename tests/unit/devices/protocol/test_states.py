import pytest

from viscount.devices.protocol.states import FAULTS, TRANSITIONS, Happening, after
from viscount.devices.protocol.words import Cause, FaultReason, Refusal, State

LINES = (Happening.GREET, Happening.READY, Happening.OPEN, Happening.SHUT)


def test_only_opening_a_ready_gate_switches_the_coil_on():
    leading = {pair for pair, step in TRANSITIONS.items() if step.to is State.OPEN}
    staying = {pair for pair in leading if pair[0] is State.OPEN}
    assert leading - staying == {(State.READY, Happening.OPEN)}
    assert all(TRANSITIONS[pair].refusal for pair in staying)


def test_every_readiness_ends_with_its_cause():
    having = (State.READY, State.OPEN)
    for (state, happening), step in TRANSITIONS.items():
        ends = state in having and step.to not in having and happening is not Happening.RESET
        assert (step.over is not None) is ends, (state, happening)


@pytest.mark.parametrize("state", State)
def test_every_state_has_an_answer_to_each_line_that_moves_the_gate_and_to_a_reset(state: State):
    for happening in (*LINES, Happening.RESET):
        assert (state, happening) in TRANSITIONS
    assert after(state, Happening.RESET).to is State.COOLING


@pytest.mark.parametrize(
    "happening",
    [
        Happening.GREET,
        Happening.SHUT,
        Happening.WRONG_NUMBER,
        Happening.CUT,
        Happening.LIMIT,
        Happening.LEASE,
        Happening.JAM,
        Happening.RESET,
    ],
)
def test_an_open_gate_shuts(happening: Happening):
    assert after(State.OPEN, happening).to is not State.OPEN


def test_a_refusal_changes_nothing():
    for (state, _), step in TRANSITIONS.items():
        if step.refusal:
            assert step.to is state
            assert step.over is None


def test_a_fault_ends_only_by_the_host_or_a_reset():
    leaving = {h for (s, h), step in TRANSITIONS.items() if s is State.FAULT and step.to is not s}
    assert leaving == {Happening.GREET, Happening.SHUT, Happening.RESET}


def test_every_way_into_a_fault_has_its_reason():
    into = {
        h for (_, h), step in TRANSITIONS.items() if step.to is State.FAULT and not step.refusal
    }
    assert into == set(FAULTS)
    assert set(FAULTS.values()) == set(FaultReason) - {FaultReason.NONE}


def test_every_cause_can_be_told():
    assert {step.over for step in TRANSITIONS.values()} - {None} == set(Cause)


def test_refusals_of_the_table_are_those_of_states():
    told = {step.refusal for step in TRANSITIONS.values()} - {None}
    assert told == {Refusal.STATE, Refusal.COOLING, Refusal.FAULT}


def test_what_is_not_listed_changes_nothing():
    assert after(State.IDLE, Happening.CUT).to is State.IDLE
    assert after(State.IDLE, Happening.CUT).over is None
