"""Every measured pour, tried with every stroke and with what else may be off."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.gate.best import Best, best_delay
from viscount.gate.left_out import delays_of_others
from viscount.gate.limits import CONFIDENCE, Chance, high_limit, low_limit
from viscount.gate.places import Lateness, Places
from viscount.gate.streams import Streams, drawn, errs, errs_together
from viscount.gate.strokes import Strokes
from viscount.stream import Poured

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_GROUPS: Final = 64
"""So many draws of the errors that all parts share: their worst 2.5 % are told from them."""
_DRAWS: Final = 2048
_TRIALS: Final = 40_000
"""About so many draws of all pours, and trials with strokes; `fine` takes some times as many."""
_NEAR: Final = 16
"""A blade that errs by more parts than this is taken to err by so many."""
_FAR: Final = 64
"""As many parts at most are taken to be on their way from line or beam to the blade."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """How many parts lie on the blade of those that had passed a height when it was shut."""

    median: float
    most: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a cut with one delay comes to: exactly N, fewer, more, or a part in the blade's way.

    Whatever else, a cut that pinches counts as pinched. Of the parts that had passed beam or
    line, some are held: they reach the blade only after it is shut. `held_past_line` is None
    where the line is below the blade.
    """

    exact: Chance
    short: Chance
    over: Chance
    pinched: Chance
    held_past_beam: Held
    held_past_line: Held | None


class Trials:
    """The trials of all pours.

    Attributes
    ----------
    streams : one for each pour, its draws as rows.
    strokes : how many strokes were measured.
    """

    def __init__(
        self,
        pours: Sequence[Poured],
        places: Places,
        strokes: Strokes | None,
        lateness: Lateness,
        *,
        seed: int,
        fine: float = 1.0,
    ) -> None:
        self._line_above = places.blade > 0
        self._groups = _GROUPS if errs_together(pours, places) else 1
        own = errs(pours) or (strokes is not None and lateness.varies)
        each = max(1, int(fine * _DRAWS) // (self._groups * len(pours))) if own else 1
        self.streams = drawn(pours, places, groups=self._groups, each=each, seed=seed)
        draws = len(pours), self._groups * each
        self.strokes = 0
        if strokes is not None:
            moves = strokes.shutting
            self.strokes = len(moves)
            taken = min(self.strokes, max(1, int(fine * _TRIALS) // (draws[0] * draws[1])))
            shape = (*draws, taken)
            order = np.arange(math.prod(shape)).reshape(shape) % self.strokes
            rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(1,)))
            late = lateness.drawn(rng, shape)
            self._stroke = order
            self._reach = moves.begins_s[order] + late
            self._shut = moves.done_s[order] + late

    def with_more_than(self, parts: int) -> list[int]:
        """Return which pours have more than so many parts."""
        return [i for i, stream in enumerate(self.streams) if stream.parts > parts]

    def best(self, number: int, back: int) -> Best | None:
        """Return the best delay from the head edge of part `number` - `back`."""
        earliest, latest = self._spans(number, back)
        return best_delay(earliest.ravel(), latest.ravel())

    def exact(self, number: int, back: int, delay_s: float) -> float:
        """Return the chance that a cut after part `number` with this delay is exact."""
        earliest, latest = self._spans(number, back)
        return float(np.mean((earliest <= delay_s) & (delay_s <= latest)))

    def delays_of_others(self, number: int, back: int, else_s: float) -> Floats:
        """Return (pours, strokes): the best delay for each by the other pours and strokes."""
        spans, stroke = self._spans(number, back), self._stroke[self.with_more_than(number)]
        return delays_of_others(*spans, stroke, strokes=self.strokes, else_s=else_s)

    def outcome(self, number: int, back: int, delay_s: Floats) -> Outcome:
        """Return what comes of a cut after part `number`.

        `delay_s` : (pours, strokes) with which delay each pour is tried with each stroke, or what
        can be broadcast to that.
        """
        pours = self.with_more_than(number)
        delay_s = np.broadcast_to(delay_s, (len(pours), self.strokes))
        shape = (len(pours), *self._reach.shape[1:])
        through, stopped, past_beam, past_line = (np.empty(shape, np.int64) for _ in range(4))
        known = np.empty(shape, np.int64)
        for i, pour in enumerate(pours):
            stream = self.streams[pour]
            command = _edge(stream, number - back)[:, None] + delay_s[i][self._stroke[pour]]
            enters, closed = command + self._reach[pour], command + self._shut[pour]
            first, last = max(number - _NEAR, 0), min(number + _NEAR, stream.parts)
            through[i] = first + _count(stream.tail_s[:, first:last], enters, before=True)
            stopped[i] = _count(stream.head_s[:, first:last], closed, before=False)
            known[i] = last
            # Of the parts that reach the blade only after it is shut, those past a height.
            far = slice(first, number + _FAR)
            past_beam[i] = first + _count(stream.at_beam_s[:, far], closed, before=True)
            past_line[i] = first + _count(stream.line_s[:, far], closed, before=True)
        pinched = through + stopped < known
        arrived = known - stopped
        trials = min(len(pours), self.strokes)
        return Outcome(
            exact=self._chance(~pinched & (through == number), trials),
            short=self._chance(~pinched & (through < number), trials),
            over=self._chance(~pinched & (through > number), trials),
            pinched=self._chance(pinched, trials),
            held_past_beam=_held(past_beam - arrived),
            held_past_line=_held(past_line - arrived) if self._line_above else None,
        )

    def _chance(self, met: Bools, trials: int) -> Chance:
        """Return the chance of what was met; its limits by the worst of the common errors."""
        tail = (1.0 - CONFIDENCE) / 2.0
        groups = met.reshape(met.shape[0], self._groups, -1).mean(axis=(0, 2))
        low, high = np.quantile(groups, [tail, 1.0 - tail])
        return Chance(
            estimate=float(met.mean()),
            low=low_limit(float(low), trials),
            high=high_limit(float(high), trials),
        )

    def _spans(self, number: int, back: int) -> tuple[Floats, Floats]:
        """Return between which delays each trial is exact: (pours, draws, strokes)."""
        pours = self.with_more_than(number)
        own = [self.streams[i] for i in pours]
        clear = np.stack([s.tail_s[:, number - 1] - _edge(s, number - back) for s in own])
        arrive = np.stack([s.head_s[:, number] - _edge(s, number - back) for s in own])
        return clear[..., None] - self._reach[pours], arrive[..., None] - self._shut[pours]


def _edge(stream: Streams, part: int) -> Floats:
    return stream.at_beam_s[:, part - 1]


def _count(times: Floats, limit: Floats, *, before: bool) -> NDArray[np.int64]:
    """Return how many of each row's times are up to a limit, or from it on: (d, s)."""
    found = np.zeros(limit.shape, dtype=np.int64)
    for column in times.T:
        found += column[:, None] <= limit if before else column[:, None] >= limit
    return found


def _held(counts: NDArray[np.int64]) -> Held:
    counts = np.maximum(counts, 0)
    return Held(median=float(np.median(counts)), most=int(counts.max()))
