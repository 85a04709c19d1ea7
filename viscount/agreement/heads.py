"""Which pulses are the first of their part: the only ones that tell when it arrived."""

from collections.abc import Sequence

from viscount.agreement.outline import Outline, Way
from viscount.values import Pulse

SIGMAS = 4.0
SPEED_SHARE = 0.15
"""Lengths may differ by this share, because the speed is that of the usual part."""


def heads(pulses: Sequence[Pulse], own: Outline) -> list[Pulse]:
    """Return the pulses, in order of time, without those that go on with the part before.

    From the first pulse on: where it and those after it look like one part, they are taken for
    it. Meant for fitting clocks, where a few wrong ones do no harm.
    """
    ways = sorted((way for way in own.ways if len(way.darks) > 1), key=lambda w: -len(w.darks))
    found: list[Pulse] = []
    k = 0
    while k < len(pulses):
        found.append(pulses[k])
        k += next(
            (len(way.darks) for way in ways if _looks_like(way, pulses[k : k + len(way.darks)])), 1
        )
    return found


def _looks_like(way: Way, pulses: Sequence[Pulse]) -> bool:
    """Return whether the first of these pulses could be one part that went this way."""
    if len(pulses) < len(way.darks):
        return False
    begun = pulses[0].start_ns
    for (start, end), pulse in zip(way.darks, pulses, strict=False):
        seen = (1e-3 * (pulse.start_ns - begun), 1e-3 * (pulse.end_ns - begun))
        for expected, edge in zip((start, end), seen, strict=True):
            if abs(edge - expected) > SIGMAS * way.sigma + SPEED_SHARE * expected:
                return False
    return True
