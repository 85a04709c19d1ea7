"""Measured strokes of a gate: how long after its command the blade does what.

Both directions stand apart, and no time is a constant: each stroke keeps its own times together,
so that one which begins late may also be known to end late.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.errors import UsageError

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moves:
    """The strokes of one direction; times in s after the command.

    Attributes
    ----------
    first_motion_s : (n,) when the blade first moves; NaN where that was not measured.
    begins_s : (n,) when the stream begins to close (*reach*: the blade first enters it), or to
        open.
    done_s : (n,) when it is closed, any rebound over (*shut*), or wholly open.

    Raises
    ------
    UsageError : no stroke, or times that do not follow each other.
    """

    first_motion_s: Floats
    begins_s: Floats
    done_s: Floats

    def __post_init__(self) -> None:
        times = self.begins_s, self.done_s
        if not len(self.begins_s) or len({len(t) for t in (*times, self.first_motion_s)}) != 1:
            raise UsageError("strokes of a gate whose times do not belong together")
        with np.errstate(invalid="ignore"):
            orderly = not (self.first_motion_s > self.begins_s).any()
        orderly = orderly and bool((self.begins_s <= self.done_s).all())
        if not (orderly and np.isfinite(times).all() and (self.begins_s >= 0).all()):
            raise UsageError(
                "a stroke whose times do not follow each other",
                allowed="0 or more; first motion, then its beginning, then its end",
            )

    def __len__(self) -> int:
        return len(self.begins_s)

    @property
    def stroke_s(self) -> float:
        """The latest end less the earliest beginning: what a gap must hold."""
        return float(self.done_s.max() - self.begins_s.min())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strokes:
    """What was measured of one gate; `opening` is None where only its shutting was.

    `sigma_s` is the standard uncertainty of each time, as far as it was stated.
    """

    shutting: Moves
    opening: Moves | None = None
    sigma_s: float = 0.0
