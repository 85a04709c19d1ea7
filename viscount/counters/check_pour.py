"""A check pour: what each counter made of parts that were counted by hand."""

from dataclasses import replace

from viscount.agreement.pooled import error_limits, good_needed
from viscount.counters.both import camera_alone
from viscount.tally import CheckTally, CounterCheck, Tally
from viscount.values import Status

TARGET_RATE = 1e-3
"""One wrong bag in a thousand."""


def with_hand_count(tally: Tally, hand_count: int) -> Tally:
    """Return the tally with each of its counters beside the hand count.

    One pour is one bag: right, it is the first of those that show how rarely bags are wrong;
    wrong, the row begins after it.
    """
    alone = camera_alone(tally)
    camera = None if alone.status is Status.INVALID else alone.count
    counters = [_beside("camera", camera, hand_count)]
    if tally.beam is not None:
        beam = None if tally.beam.status is Status.INVALID else tally.beam.parts
        counters.append(_beside("beam", beam, hand_count))
        counters.append(_beside("both", tally.count, hand_count))
    right = tally.count == hand_count
    check = CheckTally(
        hand_count=hand_count,
        counters=tuple(counters),
        target_rate=TARGET_RATE,
        bags_needed=good_needed(TARGET_RATE, 1 if right else 0),
    )
    return replace(tally, check=check)


def _beside(name: str, counted: int | None, true: int) -> CounterCheck:
    """Return one counter beside the truth.

    What it is off is the least number of parts that it got wrong: errors both ways cancel out.
    """
    if counted is None:
        return CounterCheck(
            name=name, counted=None, off=None, rate=None, rate_low=None, rate_high=None
        )
    off = counted - true
    trials = max(true, abs(off))
    if not trials:
        return CounterCheck(
            name=name, counted=counted, off=off, rate=None, rate_low=None, rate_high=None
        )
    limits = error_limits(abs(off), trials)
    return CounterCheck(
        name=name,
        counted=counted,
        off=off,
        rate=abs(off) / trials,
        rate_low=limits.low,
        rate_high=limits.high,
    )
