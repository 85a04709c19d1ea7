"""What the gate was told, and when: the cycles that fill the bags."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.errors import UsageError

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """From one command to open to the next one to shut.

    Attributes
    ----------
    opened_s : None where the gate stood open before.
    shut_s : None where it is not shut any more.
    """

    opened_s: float | None
    shut_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Commands:
    """The commands to a gate, alternately to shut and to open, on the capture clock.

    Attributes
    ----------
    open_at_first : whether the gate stood open before the first command.
    at_s : (k,) times of the commands from the first frame, rising.
    sigma_s : standard uncertainty that all of them share, the clocks' for instance.

    Raises
    ------
    UsageError : times that do not rise.
    """

    open_at_first: bool
    at_s: Floats
    sigma_s: float = 0.0

    def __post_init__(self) -> None:
        if not np.isfinite(self.at_s).all() or (np.diff(self.at_s) <= 0).any():
            raise UsageError("commands to the gate whose times do not rise")

    @property
    def cycles(self) -> tuple[Cycle, ...]:
        """The cycles in order; none where the gate never opens."""
        times = self.at_s.tolist()
        opened: list[float | None] = list(times[1::2] if self.open_at_first else times[0::2])
        shut: list[float | None] = list(times[0::2] if self.open_at_first else times[1::2])
        if self.open_at_first:
            opened.insert(0, None)
        if len(shut) < len(opened):
            shut.append(None)
        return tuple(Cycle(opened_s=a, shut_s=b) for a, b in zip(opened, shut, strict=True))
