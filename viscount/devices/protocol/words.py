"""The small vocabulary of the protocol: every word that stands for one of a few things."""

from enum import StrEnum


class State(StrEnum):
    """What a board's gate is doing. The coil is on in `OPEN` and in no other state."""

    IDLE = "idle"
    READY = "ready"
    OPEN = "open"
    COOLING = "cooling"
    FAULT = "fault"


class Cause(StrEnum):
    """Why a readiness is over: what switched the coil off, or let it lapse."""

    COUNT = "count"
    ASKED = "asked"
    LEASE = "lease"
    LIMIT = "limit"
    EXPIRY = "expiry"
    NUMBER = "number"
    GREET = "greet"
    JAM = "jam"


class FaultReason(StrEnum):
    """What was wrong when the board entered, or met again, the state `FAULT`."""

    NONE = "none"
    LEASE = "lease"
    LIMIT = "limit"
    NUMBER = "number"
    JAM = "jam"


class Refusal(StrEnum):
    """Why a board did not do what a line of the host asks for."""

    NUMBER = "number"
    BOOT = "boot"
    KIND = "kind"
    FIELDS = "fields"
    STATE = "state"
    COOLING = "cooling"
    FAULT = "fault"
    ABSENT = "absent"
    LIMIT = "limit"
    LEASE = "lease"
    COUNTED = "counted"
