"""Statistics of many runs together: what both missed, error rates and their limits, agreement.

Counts come from pairings (capture and recapture) or from check pours, whose number of parts was
counted by hand.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

LEAST_POOLED = 200
"""Below so many parts an estimate of what both missed says nothing."""
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value and its standard uncertainty."""

    value: float
    sigma: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The range in which a rate lies with the stated confidence."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Kappa:
    """Cohen's kappa: 1 for agreement in all, 0 for what chance alone would give.

    `sigma` is its standard error, `sigma_by_chance` that error if agreement were chance alone.
    """

    value: float
    sigma: float
    sigma_by_chance: float


def lincoln_petersen(first: int, second: int, both: int) -> float:
    """Return how many there are, from two catches and what is in both (Petersen 1896).

    Raises
    ------
    ValueError : where nothing was caught twice.
    """
    _check(first, second, both)
    if both == 0:
        raise ValueError("nothing was caught twice: no estimate")
    return first * second / both


def chapman(first: int, second: int, both: int) -> Estimate:
    """Return the nearly unbiased form (Chapman 1951) with its variance (Seber 1970)."""
    _check(first, second, both)
    value = (first + 1) * (second + 1) / (both + 1) - 1
    variance = (
        (first + 1)
        * (second + 1)
        * (first - both)
        * (second - both)
        / ((both + 1) ** 2 * (both + 2))
    )
    return Estimate(value=value, sigma=math.sqrt(variance))


def both_missed(both: int, camera_only: int, beam_only: int) -> Estimate | None:
    """Return how many parts neither counter saw; None below `LEAST_POOLED` parts.

    A lower bound: it holds where the counters err independently, and both can be fooled alike,
    by two parts side by side for one.

    Parameters
    ----------
    both, camera_only, beam_only : parts by who saw them, where both were watching.
    """
    found = both + camera_only + beam_only
    if found < LEAST_POOLED:
        return None
    whole = chapman(both + camera_only, both + beam_only, both)
    return Estimate(value=max(whole.value - found, 0.0), sigma=whole.sigma)


def error_limits(errors: int, trials: int, confidence: float = CONFIDENCE) -> Limits:
    """Return the exact two-sided limits of an error rate (Clopper and Pearson 1934)."""
    interval = stats.binomtest(errors, trials).proportion_ci(confidence, method="exact")
    return Limits(low=float(interval.low), high=float(interval.high))


def event_limits(events: int, exposure: float, confidence: float = CONFIDENCE) -> Limits:
    """Return the exact two-sided limits of events per unit of exposure (Garwood 1936)."""
    tail = 0.5 * (1.0 - confidence)
    low = 0.5 * float(stats.chi2.ppf(tail, 2 * events)) if events else 0.0
    high = 0.5 * float(stats.chi2.isf(tail, 2 * events + 2))
    return Limits(low=low / exposure, high=high / exposure)


def rate_below(good: int, confidence: float = CONFIDENCE) -> float:
    """Return the error rate below which a counter lies after so many good ones and no bad one.

    ``1 - (1 - confidence)^(1/n)``, of which 3/n is the rule of three.
    """
    return -math.expm1(math.log1p(-confidence) / good) if good > 0 else 1.0


def good_needed(rate: float, good_so_far: int = 0, confidence: float = CONFIDENCE) -> int:
    """Return how many more good ones, without a bad one, show an error rate below `rate`."""
    if not 0.0 < rate < 1.0:
        raise ValueError(f"a rate of {rate:g}: it must lie between 0 and 1")
    needed = math.ceil(math.log1p(-confidence) / math.log1p(-rate))
    return max(needed - good_so_far, 0)


def more_needed(rate: float, bad: int, total: int, confidence: float = CONFIDENCE) -> int:
    """Return how many more good ones show an error rate below `rate`, after `bad` of `total`.

    By the exact upper limit (Clopper and Pearson 1934), one-sided; `good_needed` without a bad
    one.
    """
    if not 0.0 < rate < 1.0:
        raise ValueError(f"a rate of {rate:g}: it must lie between 0 and 1")

    def shown(trials: int) -> bool:
        return float(stats.binom.cdf(bad, trials, rate)) <= 1.0 - confidence

    if total > bad and shown(total):
        return 0
    low, high = total, max(2 * total, 16)
    while not shown(high):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shown(middle) else (middle, high)
    return high - total


def kappa(table: Sequence[Sequence[int]]) -> Kappa:
    """Return how far two counters agree by bag, beyond chance.

    Parameters
    ----------
    table : (k, k), bags by the first counter's answer (row) and the second's (column).

    Notes
    -----
    Cohen 1960; standard errors by Fleiss, Cohen and Everitt 1969.
    """
    counts = np.asarray(table, dtype=np.float64)
    total = float(counts.sum())
    p = counts / total
    rows, columns = p.sum(axis=1), p.sum(axis=0)
    agreed, chance = float(np.trace(p)), float(rows @ columns)
    if chance >= 1.0:
        raise ValueError("both counters gave the same answer for every bag: kappa is not defined")
    value = (agreed - chance) / (1.0 - chance)
    own = np.diag(p) * (1.0 - (rows + columns) * (1.0 - value)) ** 2
    sums = columns[:, None] + rows[None, :]
    off = (p * sums**2).sum() - (np.diag(p) * np.diag(sums) ** 2).sum()
    rest = value - chance * (1.0 - value)
    spread = float(own.sum()) + (1.0 - value) ** 2 * float(off) - rest**2
    by_chance = chance + chance**2 - float((rows * columns * (rows + columns)).sum())
    scale = (1.0 - chance) * math.sqrt(total)
    return Kappa(
        value=value,
        sigma=math.sqrt(max(spread, 0.0)) / scale,
        sigma_by_chance=math.sqrt(max(by_chance, 0.0)) / scale,
    )


def _check(first: int, second: int, both: int) -> None:
    if both < 0 or both > min(first, second):
        raise ValueError(f"{both} in both catches of {first} and {second}")
