"""Which pulses are the first of their part: the only ones that tell when it arrived."""

from collections.abc import Sequence

from viscount.agreement.outline import Outline, Way
from viscount.values import Pulse

SIGMAS = 4.0
SPEED_SHARE = 0.15
"""Lengths may differ by this share, because the speed is that of the usual part."""


def heads(pulses: Sequence[Pulse], own: Outline) -> list[list[Pulse]]:
    """Return the pulses, in order of time, those that go on with the part before beside it.

    From the first pulse on: where it and those after it look like one part, they are taken for
    it. Meant for fitting clocks, where a few wrong ones do no harm.
    """
    ways = sorted((way for way in own.ways if len(way.darks) > 1), key=lambda w: -len(w.darks))
    found: list[list[Pulse]] = []
    k = 0
    while k < len(pulses):
        count = next(
            (len(way.darks) for way in ways if _looks_like(way, pulses[k : k + len(way.darks)])), 1
        )
        found.append(list(pulses[k : k + count]))
        k += count
    return found


def lead_us(own: Outline, pulses: Sequence[Pulse]) -> float:
    """Return how long after its head's arrival a part begins to give these pulses, its own.

    0 where they look like none of its ways; of several that fit alike the nearest length counts.
    """
    if not own.latest_us:
        return 0.0
    whole = 1e-3 * (pulses[-1].end_ns - pulses[0].start_ns)
    fitting = [w for w in own.ways if len(w.darks) == len(pulses) and _looks_like(w, pulses)]
    if not fitting:
        return 0.0
    nearest = min(fitting, key=lambda way: abs(way.whole - whole))
    return max(nearest.lead(whole), 0.0)


def _looks_like(way: Way, pulses: Sequence[Pulse]) -> bool:
    """Return whether the first of these pulses could be one part that went this way."""
    if len(pulses) < len(way.darks):
        return False
    begun = pulses[0].start_ns
    for (start, end), pulse in zip(way.darks, pulses, strict=False):
        seen = (1e-3 * (pulse.start_ns - begun), 1e-3 * (pulse.end_ns - begun))
        for after, edge in zip((start, end), seen, strict=True):
            expected = after - way.start
            if abs(edge - expected) > SIGMAS * way.sigma + SPEED_SHARE * expected:
                return False
    return True
