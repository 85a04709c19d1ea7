"""A tally reduced to what its camera says."""

from dataclasses import replace

from viscount.counters.both import camera_alone
from viscount.tally import Tally
from viscount.values import Status


def without_beam(tally: Tally) -> Tally:
    """Return the tally as the camera alone would give it; its pours are left out."""
    if tally.beam is None:
        return tally
    alone = camera_alone(tally)
    return replace(
        tally,
        count=None if alone.status is Status.INVALID else alone.count,
        count_low=alone.low,
        count_high=alone.high,
        status=alone.status,
        reasons=alone.reasons,
        assumed=tuple(a for a in tally.assumed if not a.code.value.startswith("beam_")),
        pours=(),
        beam=None,
        agreement=None,
        pairings=(),
        pulses=(),
        check=None,
    )
