"""Pulses whose clock no passage gives: alone in the camera's blindness, or never matched."""

from collections.abc import Sequence

import numpy as np

from viscount.agreement.clock import ClockLine
from viscount.agreement.clock_state import ClockState
from viscount.agreement.watch import Watch
from viscount.values import Pairing, Pairs, Pulse


def standing_in(pulses: Sequence[Pulse], watch: Watch) -> list[ClockLine]:
    """Return clocks for pulses without any passage: each epoch after the one before it.

    The first begins with the camera; their offsets mean nothing.
    """
    at_ns = watch.camera[0] if watch.camera is not None else 0
    found = []
    for epoch in sorted({pulse.epoch for pulse in pulses}):
        own = [pulse for pulse in pulses if pulse.epoch == epoch]
        first = min(pulse.start_ns for pulse in own)
        state = ClockState(at_s=0.0, mean=np.zeros(3), cov=np.diag([1e-6, 1e-6, 1e-6]))
        found.append(
            ClockLine(epoch=epoch, origin_ns=at_ns, board_origin_ns=first, states=(state,))
        )
        at_ns += max(pulse.end_ns for pulse in own) - first + 1_000_000_000
    return found


def without_clock(pulses: Sequence[Pulse]) -> Pairing:
    """Return the pairing of pulses that cannot be placed beside the camera's passages.

    Their parts may be among the passages already: nothing is added to those, and nothing is sure.
    """
    return Pairing(
        kind=Pairs.AMBIGUOUS,
        passages=(),
        pulses=tuple(pulse.id for pulse in pulses),
        parts=0,
        doubt=1.0,
        why=f"{len(pulses)} pulses on a clock that could not be matched with the camera's",
    )
