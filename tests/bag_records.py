"""A bag's record, as tests of journal and packing begin with it."""

from datetime import UTC, datetime

from viscount.packing.record import BagRecord, Result

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)
RECORD = BagRecord(
    bag=1,
    pours=1,
    result=Result.GOOD,
    wanted=6,
    in_bag=6,
    held=0,
    beam=6,
    camera=6,
    reasons=(),
    part="Schraube M4×12",
)
