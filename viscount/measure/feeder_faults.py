"""What a feeder does wrong, as far as intervals show it, each with how sure it is.

Nothing is told of a random stream: there every interval is as good as any other.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from viscount.measure.rhythm import Beat, Rhythm

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_SCATTER = 0.02
"""No feeder keeps its rhythm better than this, whatever a few intervals seem to say."""
TAILS = 4.0
"""Degrees of freedom of Student's t: now and then a part is far off its time for no reason."""
PRIOR = {"missing": 0.01, "double": 0.01, "early": 0.005, "pause": 0.005}
"""How often, before one looks, an interval is such a fault."""
DOUBLE_BELOW, EARLY_BELOW, PAUSE_ABOVE, PAUSE_MOST = 0.35, 0.8, 2.5, 200.0
"""Shares of the expected interval: two parts at once; one too soon; from a pause to the longest."""
JAM_ABOVE = 5.0
SLOW_ABOVE, SLOW_RUN = 1.25, 3
"""A slow-down is so many intervals on end, each longer than this share of what is expected."""
WORTH_TELLING = 0.5


class Fault(StrEnum):
    """What may be wrong where parts follow each other."""

    MISSING = "missing part"
    DOUBLE = "double"
    EARLY = "early part"
    SLOW = "slow-down"
    JAM = "jam"


@dataclass(frozen=True, slots=True, kw_only=True)
class FeederFault:
    """One fault.

    Attributes
    ----------
    part : number in its pour of the part that comes late or too soon, the first of several.
    parts : how many parts it concerns.
    t_s : when that part crosses the line, from the run's first frame.
    interval_s, expected_s : what it is, and what its neighbours and the profile say; mean of
        several. None for two parts in one passage.
    chance : that it is this fault and no mere scatter, 0 to 1.
    """

    kind: Fault
    part: int
    parts: int
    t_s: float
    interval_s: float | None
    expected_s: float | None
    chance: float

    @property
    def text(self) -> str:
        """Say it."""
        if self.interval_s is None or self.expected_s is None:
            return f"{self.parts} parts in one passage, not seen apart"
        times = self.interval_s / self.expected_s
        ms = f"{1e3 * self.interval_s:.3g} ms, {times:.2g} times what is expected"
        if self.kind is Fault.MISSING:
            return f"one place is empty, or a part was not seen: {ms}"
        if self.kind is Fault.DOUBLE:
            return f"two parts nearly at once: {ms}"
        if self.kind is Fault.EARLY:
            return f"a part comes too soon: {ms}"
        if self.kind is Fault.JAM:
            return f"the stream stops and goes on: {ms}"
        if self.parts == 1:
            return f"a part comes late: {ms}"
        return f"{self.parts} intervals on end are too long: {ms} on average"


def feeder_faults(
    beat: Beat,
    interval_s: Floats,
    sigma_s: Floats,
    t_s: Floats,
    first_part: Ints,
    parts: Ints,
    doubt: Floats,
) -> tuple[FeederFault, ...]:
    """Return the faults of a pour of n passages, in order of time.

    Parameters
    ----------
    beat : what the m = n - 1 intervals follow.
    interval_s, sigma_s : (m,).
    t_s, first_part, parts, doubt : (n,) of the passages.
    """
    found = [
        FeederFault(
            kind=Fault.DOUBLE,
            part=int(first_part[k]),
            parts=int(parts[k]),
            t_s=float(t_s[k]),
            interval_s=None,
            expected_s=None,
            chance=float(doubt[k]),
        )
        for k in np.flatnonzero(parts > 1)
    ]
    if beat.rhythm in (Rhythm.COLUMN, Rhythm.REGULAR):
        clumped = parts > 1
        told = _by_intervals(beat, interval_s, sigma_s)
        for kind, start, many, chance in told:
            if clumped[start] or clumped[start + many]:
                continue
            found.append(
                FeederFault(
                    kind=kind,
                    part=int(first_part[start + 1]),
                    parts=many,
                    t_s=float(t_s[start + 1]),
                    interval_s=float(np.mean(interval_s[start : start + many])),
                    expected_s=float(np.mean(beat.expected_s[start : start + many])),
                    chance=chance,
                )
            )
    worth = [one for one in found if one.chance >= WORTH_TELLING]
    return tuple(sorted(worth, key=lambda one: (one.t_s, one.part)))


def _by_intervals(
    beat: Beat, interval_s: Floats, sigma_s: Floats
) -> list[tuple[Fault, int, int, float]]:
    """Return kind, first interval, how many intervals and chance of each."""
    expected = beat.expected_s
    ratio = interval_s / expected
    scale = np.hypot(max(beat.scatter, LEAST_SCATTER), sigma_s / expected)
    after = np.append(expected[1:], expected[-1])
    plain = stats.t.pdf((ratio - 1.0) / scale, TAILS) / scale
    # Two intervals in one scatter as the sum of two.
    wide = np.sqrt(2.0) * scale
    missing = stats.t.pdf((ratio - 1.0 - after / expected) / wide, TAILS) / wide
    double = np.where((ratio >= 0.0) & (ratio < DOUBLE_BELOW), 1.0 / DOUBLE_BELOW, 0.0)
    is_early = (ratio >= DOUBLE_BELOW) & (ratio < EARLY_BELOW)
    early = np.where(is_early, 1.0 / (EARLY_BELOW - DOUBLE_BELOW), 0.0)
    # Pauses of all lengths alike, by their logarithm.
    long = (ratio > PAUSE_ABOVE) & (ratio < PAUSE_MOST)
    pause = np.where(long, 1.0 / (np.log(PAUSE_MOST / PAUSE_ABOVE) * np.abs(ratio)), 0.0)
    pause = np.where(ratio >= PAUSE_MOST, 1.0, pause)
    weight = {
        "missing": PRIOR["missing"] * missing,
        "double": PRIOR["double"] * double,
        "early": PRIOR["early"] * early,
        "pause": PRIOR["pause"] * pause,
    }
    total = (1.0 - sum(PRIOR.values())) * plain + sum(weight.values())
    chance = {name: w / np.maximum(total, 1e-300) for name, w in weight.items()}
    slow = _slow_runs(ratio, scale, chance["pause"])
    alone = np.ones(len(ratio), dtype=bool)
    for start, many, _ in slow:
        alone[start : start + many] = False
    jam = ratio >= JAM_ABOVE
    told = (
        (Fault.MISSING, chance["missing"], alone),
        (Fault.DOUBLE, chance["double"], alone),
        (Fault.EARLY, chance["early"], alone),
        (Fault.JAM, chance["pause"], alone & jam),
        (Fault.SLOW, chance["pause"], alone & ~jam),
    )
    found = [(Fault.SLOW, start, many, sure) for start, many, sure in slow]
    found += [
        (kind, int(k), 1, float(sure[k]))
        for kind, sure, where in told
        for k in np.flatnonzero(where & (sure >= WORTH_TELLING))
    ]
    return found


def _slow_runs(ratio: Floats, scale: Floats, pause: Floats) -> list[tuple[int, int, float]]:
    """Return first interval, length and chance of each run of intervals that are too long.

    Jams end a run. The chance is one less that of as many such intervals on end by scatter.
    """
    slow = (ratio > SLOW_ABOVE) & ~((pause > WORTH_TELLING) & (ratio >= JAM_ABOVE))
    by_scatter = stats.t.sf((ratio - 1.0) / scale, TAILS)
    runs, start = [], None
    for k, is_slow in enumerate([*slow, False]):
        if is_slow and start is None:
            start = k
        elif not is_slow and start is not None:
            if k - start >= SLOW_RUN:
                odds = float(np.prod(by_scatter[start:k])) * len(ratio)
                runs.append((start, k - start, float(np.clip(1.0 - odds, 0.0, 1.0))))
            start = None
    return runs
