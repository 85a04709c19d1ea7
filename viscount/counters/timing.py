"""How well pulses keep time with passages, beside what chance would do."""

from collections.abc import Sequence

import numpy as np

from viscount.agreement.arrival import Arrival
from viscount.counters.doubts import Timing
from viscount.values import Pairing, Pulse

MAD_TO_SIGMA = 1.4826
"""Normal scatter over median absolute deviation."""
EDGE_NS = 20_000.0
"""An edge of the beam is known to about this, whatever the passage's own uncertainty."""


def timing_of(
    pairings: Sequence[Pairing], arrivals: Sequence[Arrival], pulses: Sequence[Pulse]
) -> Timing:
    """Return how far pulses are off.

    The scatter of the rhythm is that of second differences of the arrivals, whose variance is six
    times that of a single time; a smooth change of pace leaves them alone.
    """
    by_id = {a.passage.id: a for a in arrivals}
    loose = {p.id for p in pulses if p.cut or p.lost_edges}
    late, sigma = [], []
    for pairing in pairings:
        if pairing.late_ns is None or loose & set(pairing.pulses):
            continue
        arrival = by_id[pairing.passages[0]]
        late.append(pairing.late_ns)
        sigma.append(np.hypot(np.hypot(arrival.passage.sigma_ns, arrival.sigma_ns), EDGE_NS))
    if not late:
        return Timing()
    off = np.abs(np.array(late, dtype=np.float64))
    due = np.sort([a.due_ns for a in arrivals if a.passage.parts > 0])
    bends = np.abs(np.diff(due, n=2))
    rhythm = MAD_TO_SIGMA * float(np.median(bends)) / np.sqrt(6.0) if bends.size else 0.0
    return Timing(
        off_ns=MAD_TO_SIGMA * float(np.median(off)),
        scatter=MAD_TO_SIGMA * float(np.median(off / np.array(sigma))),
        rhythm_ns=float(rhythm),
    )


def hidden_parts(pairings: Sequence[Pairing], arrivals: Sequence[Arrival]) -> int:
    """Return how many parts a watching camera missed inside of pulses that have passages."""
    own = {a.passage.id: a.passage.parts for a in arrivals}
    return sum(
        max(abs(p.parts) - sum(own[k] for k in p.passages), 0)
        for p in pairings
        if p.passages and p.pulses and not p.excused
    )
