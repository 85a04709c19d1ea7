"""Gaps and intervals between neighbours, against what the gate needs."""

from collections.abc import Iterable
from typing import Final

import numpy as np

from viscount import fall
from viscount.monitor.model.ring import Floats, Ring
from viscount.tally import SetUp
from viscount.values import Direction, Passage

MOST: Final = 4096
APART_S: Final = 1.0
"""Parts further apart than this are of two pours."""
_GAP, _INTERVAL, _LINE = range(3)


class Gaps:
    """The latest gaps and intervals, at the blade where that is known, else at the line.

    Parameters
    ----------
    below_line_px : how far the blade is downstream from the line; None where unknown.
    needed_ms : the least gap that the gate can cut in; None where nobody measured its strokes.
    most : so many are kept.
    """

    def __init__(
        self,
        below_line_px: float | None = None,
        needed_ms: float | None = None,
        most: int = MOST,
    ) -> None:
        self.needed_ms = needed_ms
        self._below_px = below_line_px
        self._rows = Ring(most, 3)
        self._set_up: SetUp | None = None
        self._tail_s = self._centre_s = -np.inf

    @property
    def at_blade(self) -> bool:
        """Whether gaps are told at the blade; else at the counting line."""
        return self._below_px is not None

    @property
    def nbytes(self) -> int:
        """Memory of the figures kept."""
        return self._rows.nbytes

    def __len__(self) -> int:
        return len(self._rows)

    def passed(self, passages: Iterable[Passage], set_up: SetUp | None) -> None:
        """Take final passages, in order of time."""
        self._set_up = set_up or self._set_up
        for one in passages:
            if one.direction is Direction.WITH and one.parts > 0:
                self._part(one)

    def interrupt(self) -> None:
        """Hear that the gate was shut: what falls next has no neighbour before it."""
        self._tail_s = self._centre_s = -np.inf

    def gaps_ms(self, until_s: float = np.inf) -> Floats:
        """(n,) clear time between tail and head, of parts through the line by then."""
        return self._column(_GAP, until_s)

    def intervals_ms(self, until_s: float = np.inf) -> Floats:
        """(n,) from centre to centre, of parts through the line by then."""
        return self._column(_INTERVAL, until_s)

    def short(self, until_s: float = np.inf) -> int | None:
        """Return how many gaps are too short for the gate; None where nobody knows."""
        if self.needed_ms is None:
            return None
        return int((self.gaps_ms(until_s) < self.needed_ms).sum())

    def _column(self, which: int, until_s: float) -> Floats:
        rows = self._rows.rows
        own = rows[rows[:, _LINE] <= until_s, which]
        return np.asarray(own[np.isfinite(own)], np.float64)

    def _part(self, one: Passage) -> None:
        line_s, speed = 1e-9 * one.t_ns, max(abs(one.speed_px_s), 1e-6)
        set_up, length = self._set_up, one.length_px
        pull = 0.0 if set_up is None else set_up.acceleration_px_s2 or 0.0
        share = 0.5 if set_up is None else set_up.head_share
        below = self._below_px or 0.0
        ahead, behind = ((length or 0.0) * share, (length or 0.0) * (1.0 - share))
        places = np.array([below - ahead, below, below + behind])
        head, centre, tail = (line_s + fall.time_to(speed, pull, places)).tolist()
        interval_s = centre - self._centre_s
        if 0.0 < interval_s < APART_S:
            gap_s = head - self._tail_s if length is not None else np.nan
            self._rows.add(1e3 * gap_s, 1e3 * interval_s, line_s)
        self._centre_s = centre
        self._tail_s = tail if length is not None else np.nan
