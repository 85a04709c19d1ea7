"""A camera's tally beside the bare number of a machine that shows no more than its total."""

from dataclasses import replace

from viscount.agreement.combined import against_total
from viscount.counters.both import camera_alone
from viscount.tally import BeamTally, Tally
from viscount.values import Status


def with_total(tally: Tally, total: int) -> Tally:
    """Return the tally of the camera and that number."""
    whole = against_total(camera_alone(tally), total)
    return replace(
        tally,
        count=None if whole.status is Status.INVALID else whole.count,
        count_low=whole.low,
        count_high=whole.high,
        status=whole.status,
        reasons=whole.reasons,
        beam=BeamTally(parts=total, pulses=total, lost_edges=0, status=Status.CLEAN, reasons=()),
    )
