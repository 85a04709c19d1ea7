"""The blade's strokes at each command, drawn many times from those that were measured."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.gate.commands import Commands, Cycle
from viscount.gate.strokes import Moves, Strokes

Floats = NDArray[np.float64]

DRAWS: Final = 1024
_SEED: Final = 30_000
_KERNEL: Final = 1.06
"""A stroke that was measured stands for those about it: a normal kernel of the width for which
B. W. Silverman, Density Estimation (1986), 3.31, is the source."""
_SLOWEST: Final = 2.0
"""Where its opening was not measured, a gate is taken to be wholly open after so many times the
longest shutting."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moving:
    """The blade in one cycle, under each of d draws; times on the capture clock, in s.

    Attributes
    ----------
    uncovers_s, opened_s : (d,) when the stream begins to open for this bag, and is wholly open;
        None where it stood open.
    enters_s, closed_s : (d,) when the blade enters the stream, and has closed it; None never.
    """

    uncovers_s: Floats | None
    opened_s: Floats | None
    enters_s: Floats | None
    closed_s: Floats | None


def moving(commands: Commands, strokes: Strokes) -> tuple[tuple[Moving, ...], np.random.Generator]:
    """Return every cycle, and the generator for whatever else is drawn beside."""
    rng = np.random.default_rng(np.random.SeedSequence(_SEED))
    together = commands.sigma_s * rng.standard_normal(DRAWS)
    return tuple(_cycle(cycle, strokes, together, rng) for cycle in commands.cycles), rng


def _cycle(cycle: Cycle, strokes: Strokes, off_s: Floats, rng: np.random.Generator) -> Moving:
    uncovers = opened = enters = closed = None
    if cycle.opened_s is not None:
        begins, done = _drawn(
            strokes.opening or _unmeasured(strokes.shutting), strokes.sigma_s, rng
        )
        uncovers, opened = cycle.opened_s + off_s + begins, cycle.opened_s + off_s + done
    if cycle.shut_s is not None:
        begins, done = _drawn(strokes.shutting, strokes.sigma_s, rng)
        enters, closed = cycle.shut_s + off_s + begins, cycle.shut_s + off_s + done
    return Moving(uncovers_s=uncovers, opened_s=opened, enters_s=enters, closed_s=closed)


def _drawn(moves: Moves, sigma_s: float, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Return beginnings and ends of strokes, each near one that was measured."""
    n = len(moves)
    which = rng.permutation(np.arange(DRAWS) % n)
    ends = []
    for times in (moves.begins_s, moves.done_s):
        width = _KERNEL * float(times.std(ddof=1)) * n**-0.2 if n > 1 else 0.0
        width = float(np.hypot(width, sigma_s))
        ends.append(times[which] + width * rng.standard_normal(DRAWS))
    return ends[0], np.maximum(*ends)


def _unmeasured(shutting: Moves) -> Moves:
    none = np.zeros(1)
    done = np.array([_SLOWEST * float(shutting.done_s.max())])
    return Moves(first_motion_s=np.full(1, np.nan), begins_s=none, done_s=done)
