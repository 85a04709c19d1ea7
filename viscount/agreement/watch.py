"""Who watched when: the stretches in which each counter could have seen a part."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from viscount.agreement.clock import ClockLine
from viscount.values import Unwatched, Watched

Floats = NDArray[np.float64]
Span = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """What is known of both counters' attention.

    Attributes
    ----------
    camera : from when to when the clip or the run lasts, on the capture clock; None where a part
        can pass the line unseen at no time but the blind ones.
    blind : stretches of the capture clock in which a part could cross the line unseen.
    beam : one for each epoch, on the board's clock; none where the beam always watched.
    unwatched : stretches of the board's clock in which edges were lost.
    """

    camera: Span | None = None
    blind: tuple[Span, ...] = ()
    beam: tuple[Watched, ...] = ()
    unwatched: tuple[Unwatched, ...] = ()

    def camera_spans(self) -> Floats:
        """Return the stretches (n, 2) in ns in which the camera sees, in order of time."""
        whole = (-np.inf, np.inf) if self.camera is None else self.camera
        return without([whole], self.blind)

    def beam_spans(self, epoch: int) -> Floats:
        """Return the stretches (n, 2) of an epoch's board time in which the beam watched."""
        own = [(w.start_ns, w.end_ns) for w in self.beam if w.epoch == epoch]
        lost = [(u.start_ns, u.end_ns) for u in self.unwatched if u.epoch == epoch]
        return without(own if self.beam else [(-np.inf, np.inf)], lost)

    def beam_spans_captured_us(self, clocks: Iterable[ClockLine], origin_ns: int) -> Floats:
        """Return the beam's stretches (n, 2) on the capture clock, in us from `origin_ns`."""
        found = [
            np.column_stack([_captured(clock, spans[:, side], origin_ns) for side in (0, 1)])
            for clock in clocks
            for spans in [self.beam_spans(clock.epoch)]
        ]
        return np.vstack(found) if found else np.empty((0, 2))


def without(wholes: Iterable[tuple[float, float]], holes: Iterable[tuple[float, float]]) -> Floats:
    """Return what is left (n, 2) of disjoint stretches when holes are cut into them."""
    left: list[tuple[float, float]] = []
    cuts = sorted(holes)
    for start, end in sorted(wholes):
        at = float(start)
        for low, high in cuts:
            if high <= at or low >= end:
                continue
            if low > at:
                left.append((at, float(low)))
            at = float(high)
        if at < end:
            left.append((at, float(end)))
    return np.array(left, dtype=np.float64).reshape(-1, 2)


def inside(spans: Floats, at: Floats, sigma: Floats) -> Floats:
    """Return the chance (n,) that moments with these uncertainties lie inside disjoint spans."""
    chance = np.zeros(at.size)
    reach = 6.0 * float(sigma.max(initial=0.0))
    order = np.argsort(at, kind="stable")
    ascending = at[order]
    for start, end in spans:
        first, last = np.searchsorted(ascending, [start - reach, end + reach])
        chosen = order[first:last]
        spread = np.maximum(sigma[chosen], 1e-9)
        chance[chosen] += ndtr((end - at[chosen]) / spread) - ndtr((start - at[chosen]) / spread)
    return np.clip(chance, 0.0, 1.0)


def _captured(clock: ClockLine, board_ns: Floats, origin_ns: int) -> Floats:
    found = board_ns.copy()
    ends = np.isfinite(board_ns)
    moved = clock.captured_us(1e-3 * (board_ns[ends] - clock.board_origin_ns))
    found[ends] = moved + 1e-3 * (clock.origin_ns - origin_ns)
    return found
