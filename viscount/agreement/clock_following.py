"""Following the board's clock along both event lists from a place where the offset is known.

Outwards from that place, stretch by stretch: what is known of offset and drift says where the
pulses of the next stretch should be; where a pause has made that too unsure, the stretch votes
anew. Each stretch is then fitted robustly (Tukey's biweight; Beaton and Tukey 1974).
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.arrival import Arrivals
from viscount.agreement.clock_state import ClockState, carried, smoothed, updated
from viscount.agreement.lamp import Lamp
from viscount.agreement.matching import mutual
from viscount.agreement.votes import peaks_us

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

STRETCH_EVENTS = 128
STRETCH_S = 20.0
PAUSE_S = 1.0
FEW_EVENTS = 16
"""A pause ends a stretch of at least so many events."""
TUKEY = 4.685
"""Tukey's constant for 95 % efficiency with normal residuals."""
LEAST_WEIGHT = 0.05
ROUNDS = 3
SURE_SHARE = 0.25
"""An offset is sure enough where its error stays below this share of the usual interval."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Followed:
    """States of some stretches, and which arrival (n,) is matched with which pulse (n,).

    `pieces` is which stretches, half-open; `residuals` (n,) are in standard uncertainties.
    """

    states: tuple[ClockState, ...]
    pieces: tuple[int, int]
    arrivals: Places
    pulses: Places
    residuals: Floats

    def shared(self, other: "Followed") -> int:
        """Return how many matches two followings have in common."""
        own = dict(zip(self.arrivals.tolist(), self.pulses.tolist(), strict=True))
        others = zip(other.arrivals.tolist(), other.pulses.tolist(), strict=True)
        return sum(own.get(arrival) == pulse for arrival, pulse in others)


def stretches(due_s: Floats) -> list[slice]:
    """Cut arrivals (n,), ascending, into stretches that are fitted as one."""
    cuts = [0]
    for k in range(1, due_s.size):
        count, start = k - cuts[-1], due_s[cuts[-1]]
        pause = due_s[k] - due_s[k - 1] > PAUSE_S and count >= FEW_EVENTS
        if pause or count >= STRETCH_EVENTS or due_s[k] - start > STRETCH_S:
            cuts.append(k)
    return [slice(a, b) for a, b in pairwise([*cuts, due_s.size])]


class Following:
    """Both event lists, ready to be followed from any place.

    Parameters
    ----------
    arrivals : of (n,).
    starts_us : (m,) ascending, pulses' starts on the board's clock.
    lamp : its events, if any.
    """

    def __init__(self, arrivals: Arrivals, starts_us: Floats, lamp: Lamp) -> None:
        self.arrivals = arrivals
        self.starts_us = starts_us
        self.lamp = lamp
        self.pieces = stretches(arrivals.due_s)
        self.at_s = np.array([arrivals.due_s[piece].mean() for piece in self.pieces])
        begun = [arrivals.due_s[piece.start] for piece in self.pieces]
        self._lamp_piece = np.maximum(np.searchsorted(begun, lamp.t_s, side="right") - 1, 0)
        self.scatter = 1.0

    def outwards(self, start: ClockState, *, most: int | None = None) -> Followed:
        """Follow from `start` to both ends, or over the `most` stretches nearest to it."""
        middle = int(np.abs(self.at_s - start.at_s).argmin())
        low, high = 0, len(self.pieces)
        if most is not None and most < high:
            low, high = max(0, middle - most // 2), min(high, middle + most // 2 + 1)
        states: dict[int, ClockState] = {}
        matches: dict[int, tuple[Places, Places]] = {}
        states[middle], matches[middle] = self.step(start, middle)
        for k in [*range(middle + 1, high), *range(middle - 1, low - 1, -1)]:
            before = states[k - 1] if k > middle else states[k + 1]
            states[k], matches[k] = self.step(before, k)
        return self._together([states[k] for k in range(low, high)], matches)

    def refined(self, start: ClockState, followed: Followed) -> Followed:
        """Fit all stretches to what was matched, each with what comes before and after it."""
        states: tuple[ClockState, ...] = followed.states
        for _ in range(ROUNDS):
            filtered: list[ClockState] = []
            matches: dict[int, tuple[Places, Places]] = {}
            state = start
            for k in range(len(self.pieces)):
                first = carried(state, float(self.at_s[k]))
                matches[k] = self._matched(states[k], k)
                state = self._fitted(first, states[k], k, matches[k])
                filtered.append(state)
            states = smoothed(filtered)
        return self._together(states, matches)

    def step(self, before: ClockState, k: int) -> tuple[ClockState, tuple[Places, Places]]:
        """Return a stretch's state from the one before it, and its matches."""
        first = carried(before, float(self.at_s[k]))
        guide = self._found(first, k)
        matches = self._matched(guide, k)
        for _ in range(ROUNDS):
            guide = self._fitted(first, guide, k, matches)
            matches = self._matched(guide, k)
        return guide, matches

    def _found(self, state: ClockState, k: int) -> ClockState:
        """Return the state, its offset voted for anew where it is too unsure to match by."""
        piece = self.pieces[k]
        due, common = self.arrivals.due_s[piece], self.arrivals.common_us[piece]
        unsure = float(np.sqrt(state.variance(due, common).max()))
        interval = 1e6 * float(np.median(np.diff(due))) if due.size > 1 else np.inf
        own = self.scatter * float(np.median(self.arrivals.sigma_us[piece]))
        if unsure < max(SURE_SHARE * interval, own):
            return state
        expected = state.expected_us(due, common)
        found = peaks_us(
            1e6 * due + expected,
            self.starts_us,
            low_us=-4.5 * unsure,
            high_us=4.5 * unsure,
            width_us=min(max(6.0 * own, 300.0), 0.5 * interval),
            most=4,
        )
        if not found:
            return state
        best = max(found, key=lambda peak: 3.0 * peak[1] - 0.5 * (peak[0] / unsure) ** 2)
        mean = state.mean + np.array([best[0], 0.0, 0.0])
        # Sure of the peak now, not yet of the drift; the update still starts from `first`.
        cov = np.diag([(3.0 * own) ** 2, 1.0, 1e-6])
        return ClockState(at_s=state.at_s, mean=mean, cov=cov)

    def _matched(self, state: ClockState, k: int) -> tuple[Places, Places]:
        piece = self.pieces[k]
        due, common = self.arrivals.due_s[piece], self.arrivals.common_us[piece]
        at = 1e6 * due + state.expected_us(due, common)
        own = (self.scatter * self.arrivals.sigma_us[piece]) ** 2
        within = TUKEY * np.sqrt(own + state.variance(due, common))
        order = np.argsort(at, kind="stable")
        low, high = np.searchsorted(
            self.starts_us, [at[order[0]] - 2 * within.max(), at[order[-1]] + 2 * within.max()]
        )
        first, second = mutual(at[order], self.starts_us[low:high], within[order])
        return order[first] + piece.start, second + low

    def _fitted(
        self, first: ClockState, guide: ClockState, k: int, matches: tuple[Places, Places]
    ) -> ClockState:
        """Return `first` updated with matches, those far from `guide` weighing little."""
        arrivals, pulses = matches
        due, common = self.arrivals.due_s[arrivals], self.arrivals.common_us[arrivals]
        sigma = self.scatter * self.arrivals.sigma_us[arrivals]
        y = self.starts_us[pulses] - 1e6 * due
        spread = np.sqrt(sigma**2 + guide.variance(due, common))
        off = (y - guide.expected_us(due, common)) / (TUKEY * spread)
        weights = np.where(np.abs(off) < 1, (1 - off**2) ** 2, 0.0)
        good = weights > LEAST_WEIGHT
        rows = [due[good], y[good], common[good], sigma[good] / np.sqrt(weights[good])]
        rows = [np.concatenate(pair) for pair in zip(rows, self._lit(guide, k), strict=True)]
        return updated(first, *rows) if rows[0].size else first

    def _lit(self, guide: ClockState, k: int) -> list[Floats]:
        """Return what the lamp says in a stretch, as matches that no fall separates.

        Without an uncertainty of the height, the way to the beam is in the offset itself, and
        the lamp's own offset is another.
        """
        lamp = self.lamp
        chosen = self._lamp_piece == k
        if not chosen.any() or not self.arrivals.common_us.any():
            return [np.empty(0)] * 4
        none = np.zeros(lamp.t_s.size)
        expected = guide.expected_us(lamp.t_s, none)
        good, y = lamp.matches(expected, np.sqrt(guide.variance(lamp.t_s, none)))
        good &= chosen
        return [lamp.t_s[good], y[good], none[good], lamp.sigma_us[good]]

    def _together(
        self,
        states: list[ClockState] | tuple[ClockState, ...],
        matches: dict[int, tuple[Places, Places]],
    ) -> Followed:
        keys = sorted(matches)
        arrivals = np.concatenate([matches[k][0] for k in keys])
        pulses = np.concatenate([matches[k][1] for k in keys])
        off = [
            (self.starts_us[matches[k][1]] - 1e6 * self.arrivals.due_s[matches[k][0]])
            - state.expected_us(
                self.arrivals.due_s[matches[k][0]], self.arrivals.common_us[matches[k][0]]
            )
            for k, state in zip(keys, states, strict=True)
        ]
        residuals = np.concatenate(off) / self.arrivals.sigma_us[arrivals]
        return Followed(
            states=tuple(states),
            pieces=(keys[0], keys[-1] + 1),
            arrivals=arrivals,
            pulses=pulses,
            residuals=residuals,
        )
