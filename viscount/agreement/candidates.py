"""Where the offset of two clocks may lie: votes, fronts and tails, the lamp, what was known."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.arrival import Arrivals
from viscount.agreement.clock_following import PAUSE_S
from viscount.agreement.clock_state import DRIFT_PRIOR_PPM
from viscount.agreement.lamp import Lamp
from viscount.agreement.votes import MOST_VOTES, peaks_us

Floats = NDArray[np.float64]

WINDOW_EVENTS = 48
"""So many neighbouring arrivals vote together; drift blurs the votes of more."""
LEAST_WINDOW = 24
STEEPEST_PPM = 120.0
SMEAR_US = 400.0
"""Drift may blur the votes by this much; the search goes through drifts in steps that keep it."""
PEAKS = 8
LAMP_REACH = 1.75
"""What the lamp does lies this many sigmas on either side of its stated time, at most."""
FRONTS = 24
"""So many pours' fronts and tails are looked at."""
DENSEST_SHARE = 0.25
NEAR_SIGMA = 4.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """An offset to try, in us, known to `sigma_us` at `at_s`."""

    offset_us: float
    sigma_us: float
    at_s: float


def starts(
    own: Arrivals, board_us: Floats, lamp: Lamp, near_us: tuple[float, float] | None
) -> list[Start]:
    """Return the offsets worth trying, each once.

    Parameters
    ----------
    own : arrivals (n,).
    board_us : (m,) ascending, pulses' starts.
    near_us : (offset, standard uncertainty) known beforehand.
    """
    low, high = _limits(own, board_us, lamp, near_us)
    found: list[Start] = []
    for window in _windows(own.due_s, board_us.size):
        found += _voted(own, window, board_us, low, high)
    found += _lamp_voted(own, lamp, low, high)
    found += [start for start in _fronts(own, board_us) if low <= start.offset_us <= high]
    return _distinct(found)


def _limits(
    own: Arrivals, board_us: Floats, lamp: Lamp, near_us: tuple[float, float] | None
) -> tuple[float, float]:
    """Return between which offsets to look."""
    due_us = 1e6 * own.due_s
    low = float(board_us[0] - due_us[-1]) - SMEAR_US
    high = float(board_us[-1] - due_us[0]) + SMEAR_US
    if near_us is not None:
        reach = NEAR_SIGMA * near_us[1] + SMEAR_US
        return max(low, near_us[0] - reach), min(high, near_us[0] + reach)
    if lamp.t_s.size > 2:
        width = 4.0 * float(np.median(lamp.sigma_us))
        some = slice(None, max(2, MOST_VOTES // max(lamp.edges_us.size, 1)))
        peaks = peaks_us(
            1e6 * lamp.t_s[some],
            lamp.edges_us,
            low_us=low - width,
            high_us=high + width,
            width_us=width,
            most=2,
        )
        # A lamp that goes with the pour only leaves several peaks alike: it limits nothing then.
        if len(peaks) == 1 or (peaks and peaks[0][1] > 1.5 * peaks[1][1]):
            reach = width + 3.0 * float(own.common_us.max(initial=0.0))
            return max(low, peaks[0][0] - reach), min(high, peaks[0][0] + reach)
    return low, high


def _windows(due_s: Floats, pulses: int) -> list[slice]:
    """Return where to vote: the densest stretch of arrivals, and the least regular dense one."""
    size = int(np.clip(MOST_VOTES // max(pulses, 1), LEAST_WINDOW, WINDOW_EVENTS))
    size = min(size, due_s.size)
    spans = due_s[size - 1 :] - due_s[: due_s.size - size + 1]
    chosen = [int(spans.argmin())]
    if due_s.size >= 3 * size:
        steps = np.diff(due_s)
        uneven = np.abs(np.diff(steps)) / np.maximum(np.median(steps), 1e-9)
        sums = np.convolve(np.minimum(uneven, 3.0), np.ones(size - 2), mode="valid")
        short = spans <= np.quantile(spans, DENSEST_SHARE)
        chosen.append(int(np.where(short, sums[: spans.size], -1.0).argmax()))
    return [slice(k, k + size) for k in dict.fromkeys(chosen)]


def _voted(own: Arrivals, window: slice, board_us: Floats, low: float, high: float) -> list[Start]:
    """Return the peaks of the votes of one window, over all drifts."""
    due = own.due_s[window]
    at_s = float(due.mean())
    span = float(due[-1] - due[0])
    sigma = float(np.median(own.sigma_us[window]))
    width = max(5.0 * sigma, SMEAR_US)
    if due.size > 2:
        width = min(width + 0.5 * SMEAR_US, max(0.5e6 * float(np.median(np.diff(due))), 2 * sigma))
    steps = 1 + 2 * int(np.ceil(0.5 * span * STEEPEST_PPM / SMEAR_US))
    found: list[tuple[int, Start]] = []
    drifts = np.linspace(-STEEPEST_PPM, STEEPEST_PPM, steps) if steps > 1 else np.zeros(1)
    for drift in drifts:
        peaks = peaks_us(
            1e6 * due + drift * (due - at_s),
            board_us,
            low_us=low,
            high_us=high,
            width_us=width,
            most=PEAKS,
        )
        found += [
            (votes, Start(offset_us=offset, sigma_us=width, at_s=at_s)) for offset, votes in peaks
        ]
    found.sort(key=lambda each: -each[0])
    return _distinct([start for _, start in found])[:PEAKS]


def _lamp_voted(own: Arrivals, lamp: Lamp, low: float, high: float) -> list[Start]:
    """Return the offsets that bring most of what the lamp did to edges of the board.

    Of a stream so regular that the events vote for too many offsets, the lamp shows the pulses
    that are missing.
    """
    if lamp.t_s.size <= 2 or not own.due_s.size:
        return []
    sigma = float(np.median(lamp.sigma_us))
    some = slice(None, max(2, MOST_VOTES // max(lamp.edges_us.size, 1)))
    peaks = peaks_us(
        1e6 * lamp.t_s[some],
        lamp.edges_us,
        low_us=low,
        high_us=high,
        width_us=2.0 * LAMP_REACH * sigma,
        most=PEAKS,
    )
    at_s = float(np.median(lamp.t_s[some]))
    return [Start(offset_us=offset, sigma_us=sigma, at_s=at_s) for offset, _ in peaks]


def _fronts(own: Arrivals, board_us: Floats) -> list[Start]:
    """Return offsets that bring first parts of pours together, or last ones."""
    due_us = 1e6 * own.due_s
    sigma = max(3.0 * float(np.median(own.sigma_us)), SMEAR_US)
    found: list[Start] = []
    for side in (0, 1):
        ours = _ends(due_us, side)
        theirs = _ends(board_us, side)
        pairs = [(ours[0], theirs[0]), (ours[-1], theirs[-1])]
        if len(ours) > 2 and len(theirs) > 2:
            peaks = peaks_us(
                ours,
                theirs,
                low_us=float(theirs[0] - ours[-1]),
                high_us=float(theirs[-1] - ours[0]),
                width_us=2 * sigma,
                most=2,
            )
            pairs += [(ours[0], ours[0] + offset) for offset, _ in peaks]
        found += [
            Start(offset_us=float(b - a), sigma_us=sigma, at_s=1e-6 * float(a)) for a, b in pairs
        ]
    return found


def _ends(times_us: Floats, side: int) -> Floats:
    """Return the first (0) or last (1) times of pours, no more than `FRONTS` of them."""
    pauses = np.flatnonzero(np.diff(times_us) > 1e6 * PAUSE_S)
    places = (
        np.concatenate([[0], pauses + 1]) if side == 0 else np.append(pauses, times_us.size - 1)
    )
    few = places[:FRONTS] if side == 0 else places[-FRONTS:]
    return np.asarray(times_us[few.astype(np.int64)])


def _distinct(found: list[Start]) -> list[Start]:
    """Return starts that cannot lead to the same offset, the first of those that can."""
    kept: list[Start] = []
    for start in found:
        if not any(_same(start, other) for other in kept):
            kept.append(start)
    return kept


def _same(start: Start, other: Start) -> bool:
    if start.at_s != other.at_s:
        apart = abs(start.at_s - other.at_s)
        return abs(start.offset_us - other.offset_us) < 1.0 and apart * DRIFT_PRIOR_PPM < 1.0
    return abs(start.offset_us - other.offset_us) <= max(start.sigma_us, other.sigma_us)
