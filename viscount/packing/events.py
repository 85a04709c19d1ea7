"""What a packing machine is told. Times are the host's, in ns; the board's own are in µs."""

from dataclasses import dataclass
from enum import StrEnum

from viscount.seams import GateReport
from viscount.values import Direction, Passage


class Word(StrEnum):
    """What a person says."""

    BAG = "bag"
    """An empty bag is in place, and the blade is free."""
    TOP_UP = "top up"
    """The same bag is still in place, and is to get what it lacks."""
    ASIDE = "aside"
    """The bag was taken away and set aside, and what was wrong was looked at."""
    PAUSE = "pause"
    GO_ON = "go on"
    STOP = "stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A person said something.

    `bag` is the bag that it is about, as the person saw it; None where that is plain. A word about
    another bag than the one under the outlet came too late, and is not heard.
    """

    word: Word
    bag: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandCount:
    """A person counted the parts of the check pour by hand."""

    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GateDid:
    """The gate did something."""

    report: GateReport


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamEdge:
    """The beam changed; `device_t_us` on the board's clock, which wraps at 2³²."""

    heard_ns: int
    device_t_us: int
    blocked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamWhole:
    """All edges up to this time have come, or are told as lost; `blocked` is how the beam is then.

    A board that restarts, or edges that are lost, leave the level unknown until this is told.
    """

    heard_ns: int
    device_t_us: int
    blocked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamLost:
    """So many edges were counted by the board and never came."""

    heard_ns: int
    edges: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressed:
    """The board's switch was pressed, at that time on the host's clock."""

    at_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchLost:
    """So many changes of the board's switch were not told in time to be understood."""

    changes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardHeard:
    """The board fell silent, or is heard again; `before` is whether it ever answered."""

    heard: bool
    before: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraSaw:
    """A passage became final."""

    passage: Passage

    @property
    def parts(self) -> int:
        """How many parts with the fall, negative against it."""
        own = self.passage
        return own.parts if own.direction is Direction.WITH else -own.parts

    @property
    def doubt(self) -> float:
        """The chance that this is wrong."""
        return self.passage.doubt


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraStands:
    """How the camera stands.

    Attributes
    ----------
    final_ns : up to here every passage is final.
    blind_s : time in which a part could have passed unseen, since the run began.
    trouble : what is wrong with it now, or nothing.
    """

    final_ns: int
    blind_s: float
    trouble: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """The record is in the journal, on the disk."""


Event = (
    Said
    | HandCount
    | GateDid
    | BeamEdge
    | BeamWhole
    | BeamLost
    | Pressed
    | SwitchLost
    | BoardHeard
    | CameraSaw
    | CameraStands
    | Written
)
