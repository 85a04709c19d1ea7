"""A lamp that the beam's board switches, seen by the camera: both clocks in one picture."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.matching import nearest
from viscount.values import LampEvent

Floats = NDArray[np.float64]

WORST = 6.0
"""No lamp event speaks more strongly than this (in logs) against an offset: it may be a glint."""
OUTSIDE = 1.0
"""Nor does one for which the log has no time speak for it: it costs a little more than one that
fits well."""
MATCH_SIGMA = 3.0
POUR_SHARE = 0.3
"""A lamp that goes on for fewer than this share of the pulses goes with the pours, where it was
not seen to go off again."""
POUR_INTERVALS = 3.0
"""Else one that stays on for more than so many intervals between pulses does."""
PAUSE_US = 1e6
ROOT_TWELVE = 12.0**0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lamp:
    """Lamp events in arrays (n,), and the edges of the board on which each kind may fall."""

    t_s: Floats
    sigma_us: Floats
    on: NDArray[np.bool_]
    on_edges_us: Floats
    off_edges_us: Floats

    @property
    def edges_us(self) -> Floats:
        """All edges on which some event may fall, ascending."""
        return np.unique(np.concatenate([self.on_edges_us, self.off_edges_us]))

    def misfit(
        self, expected_us: Floats, sigma_us: Floats, watched: NDArray[np.bool_] | None = None
    ) -> float:
        """Return how strongly the lamp speaks against offsets expected at its events, in logs.

        `watched` (n,) is whether the log has the time of each event, by that offset.
        """
        if not self.t_s.size:
            return 0.0
        z = self._off(expected_us) / np.hypot(self.sigma_us, sigma_us)
        cost = np.minimum(0.5 * z**2, WORST)
        return float(np.where(watched, cost, OUTSIDE).sum() if watched is not None else cost.sum())

    def matches(self, expected_us: Floats, sigma_us: Floats) -> tuple[NDArray[np.bool_], Floats]:
        """Return which events fall on an edge, and the differences from it (board - capture).

        `expected_us` and `sigma_us` (n,) are the offsets expected at the events.
        """
        off = self._off(expected_us)
        return np.abs(off) < MATCH_SIGMA * np.hypot(self.sigma_us, sigma_us), expected_us + off

    def _off(self, expected_us: Floats) -> Floats:
        at = 1e6 * self.t_s + expected_us
        found = np.empty(at.size)
        for kind, edges in ((self.on, self.on_edges_us), (~self.on, self.off_edges_us)):
            found[kind] = edges[nearest(at[kind], edges)] - at[kind]
        return found


def in_view(
    events: Sequence[LampEvent], starts_us: Floats, ends_us: Floats, origin_ns: int
) -> Lamp:
    """Return lamp events beside the edges of the pulses (m,), in us of the board's clock."""
    some = events if starts_us.size else ()
    on = np.array([event.on for event in some], dtype=np.bool_)
    off_edges = np.sort(np.concatenate([starts_us, ends_us]))
    on_edges = starts_us
    if _with_pours(some, starts_us):
        pauses = np.flatnonzero(np.diff(starts_us) > PAUSE_US)
        on_edges = starts_us[np.concatenate([[0], pauses + 1]).astype(np.int64)]
        off_edges = ends_us[np.append(pauses, starts_us.size - 1).astype(np.int64)]
    return Lamp(
        t_s=np.array([(e.t_ns - origin_ns) * 1e-9 for e in some]),
        sigma_us=np.array([1e-3 * max(e.sigma_ns, 1) for e in some]),
        on=on,
        on_edges_us=on_edges,
        off_edges_us=off_edges,
    )


def _with_pours(events: Sequence[LampEvent], starts_us: Floats) -> bool:
    """Return whether the lamp is on for whole pours, and not for single pulses."""
    apart = np.diff(starts_us)
    apart = apart[apart < PAUSE_US]
    lit = [
        (1e-3 * (off.t_ns - on.t_ns), 1e-3 * ROOT_TWELVE * max(on.sigma_ns, off.sigma_ns))
        for on, off in pairwise(events)
        if on.on and not off.on
    ]
    if not lit or not apart.size:
        return sum(event.on for event in events) < POUR_SHARE * starts_us.size
    # A pulse is lit for a frame's interval at least, however short it was.
    longest, frame = np.median(lit, axis=0)
    return bool(longest > frame + POUR_INTERVALS * float(np.median(apart)))
