"""What is to be packed, and what the machine is made of."""

from dataclasses import dataclass
from enum import StrEnum

from viscount.seams import Keeper

_MS = 1_000_000


class BagBy(StrEnum):
    """Who says that a bag is in place. Whatever else is to be said is said by a person's keys."""

    ENTER = "enter"
    BOARD = "board"
    """A switch wired to the board, pressed while a bag is waited for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """What decides whether a part that the beam saw got past the blade. Times in µs.

    Attributes
    ----------
    least_us, most_us : from the beam to the blade.
    reach_us : from the command until the blade enters the stream, at least.
    shut_us : from the command until the stream is closed, at most.
    """

    least_us: int
    most_us: int
    reach_us: int
    shut_us: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PackOrder:
    """Bags to pack.

    Attributes
    ----------
    each : parts in a bag. bags : good bags wanted. part : the part's name.
    early, delay_us, on_ms, expiry_ms : of each readiness; see `viscount.seams.Readiness`.
    keeper : who brings the gate's harmless position about.
    below_blade : the camera's line is below the blade, so that it counts what falls into the bag.
    way : from beam to bag; None where it is not known, and then `below_blade` must be true.
    least_pulse_us : darker for less is no part. longest_pulse_us : darker for longer is a jam.
    empty_ms : a gate that is open and lets nothing out for so long is shut.
    settle_ms : after the gate shut so long is waited for parts on their way.
    patience_ms : so long gate, beam and camera may take to answer.
    check : parts of the check pour that comes first; None where none is asked for.
    bag_by : who says that a bag is in place.
    first_bag : number of the first bag. packed : good bags that the journal already has.
    """

    each: int
    bags: int
    part: str = ""
    early: int = 0
    delay_us: int = 0
    on_ms: int = 5000
    expiry_ms: int = 2000
    keeper: Keeper = Keeper.BOARD
    below_blade: bool = False
    way: Way | None = None
    least_pulse_us: int = 100
    longest_pulse_us: int = 300_000
    empty_ms: int = 1500
    settle_ms: int = 500
    patience_ms: int = 3000
    check: int | None = None
    bag_by: BagBy = BagBy.ENTER
    first_bag: int = 1
    packed: int = 0

    def __post_init__(self) -> None:
        if self.each < 1 or self.bags < 1 or not 0 <= self.early < self.each:
            raise ValueError(f"{self.bags} bags of {self.each}, {self.early} early")
        if self.way is None and not self.below_blade:
            raise ValueError("nobody could know what got past the blade")

    @property
    def empty_ns(self) -> int:
        """`empty_ms` in ns."""
        return self.empty_ms * _MS

    @property
    def settle_ns(self) -> int:
        """`settle_ms` in ns."""
        return self.settle_ms * _MS

    @property
    def patience_ns(self) -> int:
        """`patience_ms` in ns."""
        return self.patience_ms * _MS
