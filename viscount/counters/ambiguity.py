"""What several offsets of the clocks come to: often the pairing tells which, or all say the same.

The clock fit looks at when pulses begin. Which parts they hold, and what is left over, says more:
of two offsets the better explanation of both lists is the one to believe. And where offsets remain
that explain the lists alike, a count that is the same by each of them is no doubt.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from viscount.agreement.clock import ClockLine
from viscount.agreement.clock_fit import SURE, Candidate, ClockFit
from viscount.agreement.result import Result
from viscount.codes import Code
from viscount.values import Level, Notice, Status


def with_clock(fit: ClockFit, clock: ClockLine) -> ClockFit:
    """Return the fit of one epoch as if this clock were sure."""
    (epoch,) = fit.epochs
    sure = Candidate(offset_ns=clock.offset_ns(clock.origin_ns), support=1.0, matched=epoch.matched)
    return ClockFit(epochs=(replace(epoch, clock=clock, candidates=(sure,), alternatives=()),))


def rivals(fit: ClockFit) -> tuple[ClockLine, ...]:
    """Return the clocks of an ambiguous fit; none where they are too many, or epochs are."""
    return fit.epochs[0].alternatives if fit.ambiguous and len(fit.epochs) == 1 else ()


def told_by_pairing(fit: ClockFit, weigh: Callable[[ClockFit], float]) -> ClockFit:
    """Return the fit with the offset that explains both lists best, if it is far better.

    `weigh` gives the logarithm of how likely the lists are by the clocks of a fit.
    """
    several = [with_clock(fit, clock) for clock in rivals(fit)]
    if len(several) < 2:
        return fit
    found = np.array([weigh(one) for one in several])
    chances = np.exp(found - found.max())
    best = int(found.argmax())
    return several[best] if chances[best] > SURE * chances.sum() else fit


def same_by_each(results: Sequence[Result]) -> bool:
    """Return whether all these results are clean, and the same count."""
    clean = all(one.status is Status.CLEAN for one in results)
    return len(results) > 1 and clean and len({one.count for one in results}) == 1


def same_note(fit: ClockFit) -> Notice:
    """Return the note that stands for the doubt."""
    number = len(rivals(fit))
    text = f"{number} offsets of the clocks explain the pour alike; the count is the same by each"
    return Notice(level=Level.INFO, code=Code.CLOCKS_AMBIGUOUS, text=text)


def spread_ns(fit: ClockFit) -> float:
    """Return the standard deviation of an ambiguous offset about the one that is stated."""
    candidates = fit.epochs[0].candidates
    first = candidates[0].offset_ns
    return float(np.sqrt(sum(c.support * (c.offset_ns - first) ** 2 for c in candidates)))
