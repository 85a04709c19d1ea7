"""What a board's gate does: every state, everything that can happen, every transition.

The coil is on in `State.OPEN` and in no other state.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from viscount.devices.protocol.words import Cause, FaultReason, Refusal, State


class Happening(StrEnum):
    """What may happen to a gate. The first five are lines of the host."""

    GREET = "greet"
    READY = "ready"
    OPEN = "open"
    SHUT = "shut"
    WRONG_NUMBER = "wrong number"
    CUT = "cut due"
    LIMIT = "on too long"
    LEASE = "lease over"
    EXPIRY = "expired"
    JAM = "blade late"
    COOLED = "cooled"
    RESET = "reset"


@dataclass(frozen=True, slots=True)
class Step:
    """What a happening does in a state.

    Attributes
    ----------
    to : the state afterwards.
    over : the cause that the board tells where a readiness ends.
    refusal : the reason that the board tells where it does not do what was asked.
    """

    to: State
    over: Cause | None = None
    refusal: Refusal | None = None


_IDLE, _READY, _OPEN, _COOLING, _FAULT = (
    State.IDLE,
    State.READY,
    State.OPEN,
    State.COOLING,
    State.FAULT,
)

TRANSITIONS: Mapping[tuple[State, Happening], Step] = MappingProxyType(
    {
        (_IDLE, Happening.GREET): Step(_IDLE),
        (_IDLE, Happening.READY): Step(_READY),
        (_IDLE, Happening.OPEN): Step(_IDLE, refusal=Refusal.STATE),
        (_IDLE, Happening.SHUT): Step(_IDLE),
        (_IDLE, Happening.RESET): Step(_COOLING),
        (_READY, Happening.GREET): Step(_IDLE, over=Cause.GREET),
        (_READY, Happening.READY): Step(_READY, refusal=Refusal.STATE),
        (_READY, Happening.OPEN): Step(_OPEN),
        (_READY, Happening.SHUT): Step(_IDLE, over=Cause.ASKED),
        (_READY, Happening.WRONG_NUMBER): Step(_IDLE, over=Cause.NUMBER),
        (_READY, Happening.LEASE): Step(_IDLE, over=Cause.LEASE),
        (_READY, Happening.EXPIRY): Step(_IDLE, over=Cause.EXPIRY),
        (_READY, Happening.RESET): Step(_COOLING),
        (_OPEN, Happening.GREET): Step(_COOLING, over=Cause.GREET),
        (_OPEN, Happening.READY): Step(_OPEN, refusal=Refusal.STATE),
        (_OPEN, Happening.OPEN): Step(_OPEN, refusal=Refusal.STATE),
        (_OPEN, Happening.SHUT): Step(_COOLING, over=Cause.ASKED),
        (_OPEN, Happening.WRONG_NUMBER): Step(_FAULT, over=Cause.NUMBER),
        (_OPEN, Happening.CUT): Step(_COOLING, over=Cause.COUNT),
        (_OPEN, Happening.LIMIT): Step(_FAULT, over=Cause.LIMIT),
        (_OPEN, Happening.LEASE): Step(_FAULT, over=Cause.LEASE),
        (_OPEN, Happening.JAM): Step(_FAULT, over=Cause.JAM),
        (_OPEN, Happening.RESET): Step(_COOLING),
        (_COOLING, Happening.GREET): Step(_COOLING),
        (_COOLING, Happening.READY): Step(_COOLING, refusal=Refusal.COOLING),
        (_COOLING, Happening.OPEN): Step(_COOLING, refusal=Refusal.COOLING),
        (_COOLING, Happening.SHUT): Step(_COOLING),
        (_COOLING, Happening.JAM): Step(_FAULT),
        (_COOLING, Happening.COOLED): Step(_IDLE),
        (_COOLING, Happening.RESET): Step(_COOLING),
        (_FAULT, Happening.GREET): Step(_COOLING),
        (_FAULT, Happening.READY): Step(_FAULT, refusal=Refusal.FAULT),
        (_FAULT, Happening.OPEN): Step(_FAULT, refusal=Refusal.FAULT),
        (_FAULT, Happening.SHUT): Step(_COOLING),
        (_FAULT, Happening.JAM): Step(_FAULT),
        (_FAULT, Happening.RESET): Step(_COOLING),
    }
)
"""Where a pair is not listed, the happening changes nothing in that state and is not told."""

FAULTS: Mapping[Happening, FaultReason] = MappingProxyType(
    {
        Happening.WRONG_NUMBER: FaultReason.NUMBER,
        Happening.LIMIT: FaultReason.LIMIT,
        Happening.LEASE: FaultReason.LEASE,
        Happening.JAM: FaultReason.JAM,
    }
)
"""The reason that a board tells when a happening leads to `State.FAULT`."""


def after(state: State, happening: Happening) -> Step:
    """Return what a happening does in a state: a listed transition, or nothing."""
    return TRANSITIONS.get((state, happening), Step(state))
