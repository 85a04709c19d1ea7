"""A beam's log as the counters take it: pulses, and what there is to say of them."""

from dataclasses import dataclass

from viscount.beam.record import BeamRecord
from viscount.tally import FileMark
from viscount.values import Notice, Pulse


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamSeen:
    """All pulses of one log, in order, with the record of its edges.

    `notices` are those of the log as a file; `record` has its own.
    """

    pulses: tuple[Pulse, ...]
    record: BeamRecord
    notices: tuple[Notice, ...] = ()
    log: FileMark | None = None
