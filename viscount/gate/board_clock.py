"""How the clock of the beam's board, which also commands the gate, stands to the camera's."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code

Floats = NDArray[np.float64]

_UNCLOCKED: Final = {Code.CLOCKS_AMBIGUOUS, Code.CLOCKS_UNFITTED}


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardClock:
    """The board's clock beside one recording, as both counters' parts tell it.

    Attributes
    ----------
    source : the recording.
    offset_s : the board's time less the camera's at the first frame.
    drift : by which share the board's runs fast.
    offset_sigma_s, drift_sigma : their standard uncertainties.
    """

    source: str
    offset_s: float
    drift: float
    offset_sigma_s: float
    drift_sigma: float

    def on_capture(self, at_s: Floats) -> tuple[Floats, float]:
        """Return times on the capture clock, and the uncertainty that they share."""
        there_s = (at_s - self.offset_s) / (1.0 + self.drift)
        far_s = float(np.abs(there_s).max()) if there_s.size else 0.0
        return there_s, float(np.hypot(self.offset_sigma_s, self.drift_sigma * far_s))


def board_clock(
    source: str,
    *,
    offset_s: float | None,
    drift_ppm: float | None,
    offset_sigma_s: float | None,
    drift_sigma_ppm: float | None,
    epochs: int,
    said: Collection[Code],
) -> BoardClock | None:
    """Return the clock by what a tally tells of it; None where that puts no time on another.

    `epochs` : how often the board's clock began anew, from 1. `said` : the tally's reasons.
    """
    if offset_s is None or epochs != 1 or _UNCLOCKED.intersection(said):
        return None
    return BoardClock(
        source=source,
        offset_s=offset_s,
        drift=1e-6 * (drift_ppm or 0.0),
        offset_sigma_s=offset_sigma_s or 0.0,
        drift_sigma=1e-6 * (drift_sigma_ppm or 0.0),
    )
