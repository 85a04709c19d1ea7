"""Chances with confidence limits, where pours and strokes are few.

Each pour is tried with each stroke, so that the trials are not independent: ten pours and twenty
strokes are no two hundred trials. Their mean is the mean over all ways to give each of
m = min(pours, strokes) pours a stroke of its own, and those m are independent. For such a mean
the bound of W. Hoeffding holds as it does for m trials (J. Am. Stat. Assoc. 58 (1963) 13-30,
theorem 1 with section 5):

    P(mean >= x) <= exp(-m KL(x, p)),   KL(x, p) = x ln(x/p) + (1 - x) ln((1 - x)/(1 - p)),

whatever the distribution. Where all trials went well it is the exact binomial limit of m trials,
elsewhere a little wider. One pour can promise nothing.

This is so for a given delay. Where each pour is tried with the delay that the others choose, trials
hang together a little more than that; the benchmark of cuts says how often limits then hold.
"""

import math
from dataclasses import dataclass
from typing import Final

from scipy.optimize import brentq
from scipy.special import rel_entr

CONFIDENCE: Final = 0.95
_NEXT_TO_NONE: Final = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """A chance as estimated, and the limits in which it lies with 95 % confidence."""

    estimate: float
    low: float
    high: float


def low_limit(mean: float, trials: int, *, confidence: float = CONFIDENCE) -> float:
    """Return the lower one of two limits for the chance of which `mean` was met.

    Parameters
    ----------
    mean : 0 to 1. trials : m, 1 or more.
    confidence : of both limits together, each being missed half as often.
    """
    mean = min(max(mean, 0.0), 1.0)
    most = math.log(2.0 / (1.0 - confidence))
    if mean == 0.0:
        return 0.0

    def missing(p: float) -> float:
        return trials * float(rel_entr(mean, p) + rel_entr(1.0 - mean, 1.0 - p)) - most

    if mean == 1.0:
        return math.exp(-most / trials)
    if missing(_NEXT_TO_NONE) <= 0.0:
        return 0.0
    return float(brentq(missing, _NEXT_TO_NONE, mean))


def high_limit(mean: float, trials: int, *, confidence: float = CONFIDENCE) -> float:
    """Return the upper one of two limits; see `low_limit`."""
    return 1.0 - low_limit(1.0 - mean, trials, confidence=confidence)


def trials_to_promise(rate: float, *, confidence: float = CONFIDENCE) -> int:
    """Return the least m for which the lower limit is `rate`, all having gone well."""
    # What floats make of a whole number must not ask for one more.
    return math.ceil(math.log(2.0 / (1.0 - confidence)) / -math.log(rate) - 1e-9)
