"""Whether a beam that stays dark or light is stuck, by what passed meanwhile."""

from collections.abc import Sequence

from viscount.codes import Code
from viscount.tally import Reason
from viscount.values import Pairing, Pulse

MOST_DOUBT = 0.05
SEVERAL = 5
"""Pulses of fewer parts are clumps."""


def is_stuck(
    reasons: Sequence[Reason], pairings: Sequence[Pairing], pulses: Sequence[Pulse]
) -> bool:
    """Return whether the beam was stuck, of which its own `reasons` are a hint.

    A crowded stream keeps a beam dark for long, too. Then the long pulse begins with its first
    part and ends with its last, so that its pairing is sure; and both its ends were seen.
    """
    codes = {reason.code for reason in reasons}
    if Code.BEAM_STUCK_OPEN in codes:
        return True
    if Code.BEAM_STUCK_BLOCKED not in codes:
        return False
    loose = {p.id for p in pulses if p.cut or p.lost_edges}
    long = [p for p in pairings if len(p.passages) >= SEVERAL and len(p.pulses) == 1]
    return not long or any(p.doubt > MOST_DOUBT or loose & set(p.pulses) for p in long)
