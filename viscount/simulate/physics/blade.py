"""The gate's blade: how much of the stream it covers, and when."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.simulate.scene import Gate

Array = NDArray[np.float64]

REBOUND_SHARE = 0.4
"""Part of the time from reach to shut that the rebound takes, where there is one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One shutting and the opening after it; times on the capture clock, in s.

    Attributes
    ----------
    commanded_s : the command to shut.
    reach_s : when the blade first enters the stream.
    across_s : when it first is all across; it may rebound from there.
    shut_s : when it has closed the stream for good.
    open_s, clear_s : when it starts to open again, and when it is out of the stream; inf never.
    rebound : the greatest share of the stream that the rebound lets open.
    """

    commanded_s: float
    reach_s: float
    across_s: float
    shut_s: float
    open_s: float
    clear_s: float
    rebound: float

    def share(self, t_s: Array) -> Array:
        """Return the share of the stream that is covered, 0 to 1.

        The edge sweeps evenly, rebounds along half a sine, and withdraws evenly.
        """
        swept = _ramp(t_s, self.reach_s, self.across_s)
        back = _ramp(t_s, self.across_s, self.shut_s)
        left: Array = swept - self.rebound * np.sin(np.pi * back)
        if self.open_s < math.inf:
            left = left - _ramp(t_s, self.open_s, self.clear_s)
        return np.maximum(left, 0.0)

    def meets(self, share: float) -> float:
        """Return when the edge first is at `share` of the stream's width."""
        return self.reach_s + share * (self.across_s - self.reach_s)

    def covers(self, share: float) -> float:
        """Return from when on the edge stays beyond `share` of the stream's width."""
        if 1 - self.rebound >= share:
            return self.meets(share)
        last = 1 - math.asin((1 - share) / self.rebound) / math.pi
        return self.across_s + last * (self.shut_s - self.across_s)

    def uncovers(self, share: float) -> float:
        """Return when the edge withdraws past `share` of the stream's width; inf never."""
        if self.open_s == math.inf:
            return math.inf
        return self.open_s + (1 - share) * (self.clear_s - self.open_s)


@dataclass(frozen=True, slots=True)
class Blade:
    """The blade's strokes, one for each cycle of the gate.

    `left_mm` and `right_mm` bound the stream across the fall; the blade comes in from the left.
    """

    strokes: tuple[Stroke, ...]
    left_mm: float
    right_mm: float

    def driven_s(self) -> Array:
        """Return the stretches of time, (n, 2), in which the coil holds the gate open."""
        begins = [-math.inf, *(stroke.open_s for stroke in self.strokes)]
        ends = [*(stroke.commanded_s for stroke in self.strokes), math.inf]
        return np.array([pair for pair in zip(begins, ends, strict=True) if pair[0] < math.inf])

    def share(self, t_s: Array | float) -> Array:
        """Return the share of the stream that the blade covers at the times `t_s`, 0 to 1."""
        t = np.asarray(t_s, dtype=np.float64)
        covered = np.zeros_like(t)
        for stroke in self.strokes:
            covered = np.maximum(covered, stroke.share(t))
        return covered

    def share_at(self, across_mm: float) -> float:
        """Return which share of the stream lies to the left of a place across the fall."""
        width = self.right_mm - self.left_mm
        return min(max((across_mm - self.left_mm) / width, 0.0), 1.0)


def strokes(gate: Gate, start_s: float, rng: np.random.Generator) -> tuple[Stroke, ...]:
    """Draw the reach and the shut of each cycle, whose times count from `start_s`.

    A command that comes before the blade has done with the one before waits until it has.
    """
    found: list[Stroke] = []
    rebound = gate.rebound_percent / 100
    free_s = -math.inf
    spreads = gate.spread_ms * rng.standard_normal((len(gate.cycles), 2))
    for i, (cycle, (early, late)) in enumerate(zip(gate.cycles, spreads.tolist(), strict=True)):
        command = max(start_s + cycle.shut_ms * 1e-3, free_s)
        reach = command + max(gate.reach_ms + early, 0.0) * 1e-3
        least = (gate.shut_takes_ms - gate.reach_ms) / 4
        shut = max(command + (gate.shut_takes_ms + late) * 1e-3, reach + least * 1e-3)
        open_s = math.inf
        if i + 1 < len(gate.cycles):
            open_s = max(start_s + gate.cycles[i + 1].open_ms * 1e-3, shut)
        free_s = open_s + gate.open_takes_ms * 1e-3
        found.append(
            Stroke(
                commanded_s=command,
                reach_s=reach,
                across_s=shut - REBOUND_SHARE * (shut - reach) if rebound else shut,
                shut_s=shut,
                open_s=open_s,
                clear_s=free_s,
                rebound=rebound,
            )
        )
    return tuple(found)


def _ramp(t_s: Array, start_s: float, end_s: float) -> Array:
    """Return 0 before `start_s`, 1 from `end_s` on, and a straight line between."""
    if end_s <= start_s:
        return np.asarray(t_s >= end_s, dtype=np.float64)
    return np.clip((t_s - start_s) / (end_s - start_s), 0.0, 1.0)
