"""Both event trains: passages of the camera, pulses of the beam, and what belongs together.

Everything is told at the time of the counting line. A pulse is brought there by the fall of the
parts about it: each passage says when its head was at the beam, and times between are between.
"""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from viscount import fall
from viscount.monitor.model.ring import Floats, Ring
from viscount.tally import SetUp
from viscount.values import Direction, Pairing, Pairs, Passage, Pulse

MOST: Final = 4096
LEAST_SPEED_PX_S: Final = 1.0
NEAR_S: Final = 2.0
"""From beam to line a part takes less than this."""
SAME_S: Final = 0.002
ROOM_SHARE: Final = 0.22
UNDER_WAY_S: Final = 0.5
"""After so long a part is far below the line."""
_LINE, _DUE, _SPEED, _PARTS, _DOUBT, _ACROSS, _ID = range(7)
_START, _END, _PULSE = range(3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Link:
    """A pairing on the time axis: where its passages and its pulses stand."""

    pairing: Pairing
    passages_s: tuple[float, ...]
    pulses_s: tuple[tuple[float, float], ...]

    @property
    def agrees(self) -> bool:
        """Whether both counters say the same of it."""
        return self.pairing.kind in (Pairs.AGREED, Pairs.SPLIT_PULSE)

    @property
    def at_s(self) -> float:
        """Where to look."""
        return self.passages_s[0] if self.passages_s else self.pulses_s[0][0]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """What is in a stretch of time.

    Attributes
    ----------
    passages : (n, 4) time at the line, parts, doubt, place across the fall.
    pulses : (m, 2) start and end, brought to the line.
    links : pairings of these.
    paired : (n,) whether a pairing names the passage.
    """

    passages: Floats
    pulses: Floats
    links: tuple[Link, ...]
    paired: Floats


class Trains:
    """The latest passages, pulses and pairings.

    Parameters
    ----------
    below_line_px : how far the beam is downstream from the line; None where unknown.
    most : so many of each are kept.
    """

    def __init__(self, below_line_px: float | None = None, most: int = MOST) -> None:
        self._below_px = below_line_px
        self._passages = Ring(most, 7)
        self._pulses = Ring(most, 3)
        self._pairings: deque[tuple[float, Pairing]] = deque(maxlen=most)
        self._set_up: SetUp | None = None
        self._total = 0
        self.last_s = -np.inf

    @property
    def nbytes(self) -> int:
        """Memory of the figures kept."""
        return self._passages.nbytes + self._pulses.nbytes

    @property
    def sizes(self) -> tuple[int, int, int]:
        """How many passages, pulses and pairings are kept."""
        return len(self._passages), len(self._pulses), len(self._pairings)

    @property
    def carries(self) -> bool:
        """Whether the fall from beam to line is known."""
        return self._below_px is not None

    def passed(self, passages: Iterable[Passage], set_up: SetUp | None) -> None:
        """Take final passages."""
        self._set_up = set_up or self._set_up
        for one in passages:
            line_s = 1e-9 * one.t_ns
            sign = 1 if one.direction is Direction.WITH else -1
            due_s = line_s + self._way_s(one)
            self._total += sign * one.parts
            figures = (abs(one.speed_px_s), sign * one.parts, one.doubt, one.across_px, one.id)
            self._passages.add(line_s, due_s, *figures)
            self.last_s = max(self.last_s, line_s)

    def pulsed(self, pulses: Iterable[Pulse], captured_ns: Sequence[int | None]) -> None:
        """Take pulses with their starts on the capture clock; None for those no clock places."""
        for one, at_ns in zip(pulses, captured_ns, strict=True):
            if at_ns is not None:
                start_s = 1e-9 * at_ns
                self._pulses.add(start_s, start_s + 1e-9 * (one.end_ns - one.start_ns), one.id)

    def placed(self, captured_s: dict[int, float]) -> None:
        """Put pulses where a fitted clock has them: start times in s by id."""
        rows = self._pulses.rows
        for number, start_s in captured_s.items():
            own = rows[:, _PULSE] == number
            rows[own, _END] += start_s - rows[own, _START]
            rows[own, _START] = start_s

    def paired(self, pairings: Iterable[Pairing]) -> None:
        """Take pairings, once their passages and pulses are known."""
        rows, bars = self._passages.rows, self._pulses.rows
        lines = dict(zip(rows[:, _ID].tolist(), rows[:, _LINE].tolist(), strict=True))
        starts = dict(zip(bars[:, _PULSE].tolist(), bars[:, _START].tolist(), strict=True))
        for one in pairings:
            known = [lines[n] for n in one.passages if n in lines]
            known += [starts[n] for n in one.pulses if n in starts]
            if known:
                self._pairings.append((known[0], one))

    def clear(self) -> None:
        """Forget all."""
        self._passages.clear()
        self._pulses.clear()
        self._pairings.clear()
        self._total, self.last_s = 0, -np.inf

    def speeds(self, at_s: Floats) -> Floats:
        """Return how fast parts were about these times at the line; 0 before any was seen."""
        rows = self._passages.rows
        if not len(rows):
            return np.zeros(len(at_s))
        order = np.argsort(rows[:, _LINE])
        return np.asarray(np.interp(at_s, rows[order, _LINE], rows[order, _SPEED]), np.float64)

    def at_line(self, beam_s: Floats) -> Floats:
        """Return when what was at the beam at these times is at the line."""
        rows = self._passages.rows
        if not len(rows) or not len(beam_s):
            return beam_s
        dues, lines = rows[:, _DUE], rows[:, _LINE]
        order = np.argsort(dues)
        ways = np.interp(beam_s, dues[order], (lines - dues)[order])
        return beam_s + ways

    def within(self, start_s: float, end_s: float) -> Stretch:
        """Return what is in a stretch of time at the line."""
        rows = self._passages.rows
        own = rows[(rows[:, _LINE] >= start_s) & (rows[:, _LINE] <= end_s)]
        bars = self._pulses.rows
        low, high = start_s - NEAR_S, end_s + NEAR_S
        near = bars[(bars[:, _START] >= low) & (bars[:, _START] <= high)]
        starts, ends = self.at_line(near[:, _START]), self.at_line(near[:, _END])
        shown = (ends >= start_s) & (starts <= end_s)
        ends = np.minimum(ends, end_s)
        pulses = {int(n): (a, b) for n, a, b in zip(near[:, _PULSE], starts, ends, strict=True)}
        lines = {int(n): float(t) for n, t in zip(own[:, _ID], own[:, _LINE], strict=True)}
        links = []
        for at_s, one in self._pairings:
            made = _link(one, lines, pulses) if low <= at_s <= high else None
            if made is not None and start_s <= made.at_s <= end_s:
                links.append(made)
        named = {n for link in links for n in link.pairing.passages}
        return Stretch(
            passages=own[:, (_LINE, _PARTS, _DOUBT, _ACROSS)],
            pulses=np.column_stack([starts[shown], ends[shown]]),
            links=tuple(links),
            paired=np.array([float(n) in named for n in own[:, _ID]], dtype=np.float64),
        )

    def counts(self, now_s: float) -> tuple[int, int]:
        """Return how many parts crossed the line, and how many pulses began there, by then."""
        rows = self._passages.rows
        through = int(rows[rows[:, _LINE] <= now_s, _PARTS].sum()) if len(rows) else 0
        bars = self._pulses.rows
        begun = int((self.at_line(bars[:, _START]) <= now_s).sum()) if len(bars) else 0
        return through, begun

    def counted_before(self, start_s: float) -> int:
        """Return how many parts crossed the line before then, forgotten ones among them."""
        rows = self._passages.rows
        return self._total - int(rows[rows[:, _LINE] >= start_s, _PARTS].sum())

    def last_before_s(self, now_s: float) -> float:
        """Return when the last part by then crossed the line; 0 where there was none."""
        lines = self._passages.rows[:, _LINE]
        return float(lines[lines <= now_s].max(initial=0.0))

    def nearest_s(self, at_s: float) -> float:
        """Return how far in time the nearest passage is."""
        lines = self._passages.rows[:, _LINE]
        return float(np.abs(lines - at_s).min(initial=np.inf))

    def path(self, line_s: float, at_s: Floats) -> Floats | None:
        """Return where the part that crossed the line then is at some times.

        (n, 2) as for `under_way`; None where no passage is near.
        """
        rows = self._passages.rows
        if not len(rows):
            return None
        own = rows[np.argmin(np.abs(rows[:, _LINE] - line_s))]
        if abs(own[_LINE] - line_s) > SAME_S:
            return None
        late = at_s - own[_LINE]
        return np.column_stack([np.full(len(late), own[_ACROSS]), self._fallen(own[_SPEED], late)])

    def across(self, step: int, most: int) -> tuple[float, float]:
        """Return between which lines across the fall parts pass, with room about them.

        `step` px are one line; there are `most` of them.
        """
        rows = self._passages.rows[-256:]
        if not len(rows):
            return 0.0, float(most)
        low, high = rows[:, _ACROSS].min() / step, rows[:, _ACROSS].max() / step
        room = max(ROOM_SHARE * most, 12.0)
        return max(low - room, 0.0), min(high + room, float(most))

    def under_way(self, now_s: float) -> Floats:
        """Return where the parts are that crossed the line a moment ago.

        (n, 2) image coordinate across the fall, and px downstream from the line.
        """
        rows = self._passages.rows
        late = now_s - rows[:, _LINE]
        own, late = (
            rows[(late >= 0) & (late < UNDER_WAY_S)],
            late[(late >= 0) & (late < UNDER_WAY_S)],
        )
        return np.column_stack([own[:, _ACROSS], self._fallen(own[:, _SPEED], late)])

    def _fallen(self, speed: Floats, late_s: Floats) -> Floats:
        """Return px from the line so long after it, by the fall."""
        pull = 0.0 if self._set_up is None else self._set_up.acceleration_px_s2 or 0.0
        return fall.place_after(0.0, speed, pull, late_s)[0]

    def _way_s(self, one: Passage) -> float:
        """Return how long after the line a part's head is at the beam; negative before."""
        set_up, speed = self._set_up, abs(one.speed_px_s)
        if self._below_px is None or set_up is None or speed < LEAST_SPEED_PX_S:
            return 0.0
        ahead = (one.length_px or 0.0) * set_up.head_share
        way = float(fall.time_to(speed, set_up.acceleration_px_s2 or 0.0, self._below_px - ahead))
        return way if np.isfinite(way) else 0.0


def _link(
    pairing: Pairing, lines: dict[int, float], pulses: dict[int, tuple[float, float]]
) -> Link | None:
    passages_s = tuple(lines[n] for n in pairing.passages if n in lines)
    pulses_s = tuple(pulses[n] for n in pairing.pulses if n in pulses)
    if len(passages_s) + len(pulses_s) < len(pairing.passages) + len(pairing.pulses):
        return None
    return Link(pairing=pairing, passages_s=passages_s, pulses_s=pulses_s)
