"""What a packing machine wants done."""

from dataclasses import dataclass
from enum import StrEnum

from viscount.packing.record import BagRecord
from viscount.seams import Readiness


@dataclass(frozen=True, slots=True, kw_only=True)
class AskReady:
    """Have the gate ready."""

    wanted: Readiness


@dataclass(frozen=True, slots=True)
class AskOpen:
    """Have the gate open."""


@dataclass(frozen=True, slots=True)
class AskShut:
    """Have the gate shut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Write:
    """Put the record into the journal; tell `Written` once it is on the disk."""

    record: BagRecord


class About(StrEnum):
    """What a saying is about."""

    WANTS = "wants"
    """A person is to do something."""
    RESULT = "result"
    STATE = "state"
    TROUBLE = "trouble"


@dataclass(frozen=True, slots=True, kw_only=True)
class Say:
    """Show it to the person who packs."""

    about: About
    text: str


@dataclass(frozen=True, slots=True)
class End:
    """Nothing more is to be done."""


Action = AskReady | AskOpen | AskShut | Write | Say | End
