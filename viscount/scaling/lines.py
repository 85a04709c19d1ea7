"""The light of each line of a picture, frame by frame, for bands of light."""

import numpy as np
from numpy.typing import NDArray

from viscount.values import Frame

Floats = NDArray[np.float64]

MOST_FRAMES = 600
"""More would say the same."""
_DARK_GREY, _FULL_GREY = 16.0, 245.0
"""Pixels beyond these say little about a ratio of brightness."""
_ACROSS = 48
"""Pixels of each line that are looked at, about."""


class Lines:
    """Takes in frames; `rows` and `columns` are (n, h) and (n, w) relative to the level.

    Parameters
    ----------
    level : (H, W) about what the scene looks like without parts.
    """

    def __init__(self, level: NDArray[np.float32]) -> None:
        self._level = level
        height, width = level.shape
        self._rows_at = np.linspace(0, width - 1, min(_ACROSS, width)).round().astype(int)
        self._columns_at = np.linspace(0, height - 1, min(_ACROSS, height)).round().astype(int)
        self._t_s: list[float] = []
        self._rows: list[NDArray[np.float32]] = []
        self._columns: list[NDArray[np.float32]] = []

    def add(self, frame: Frame) -> None:
        """Take in one frame; repeated and damaged ones tell nothing new."""
        if len(self._t_s) >= MOST_FRAMES or frame.repeated or frame.damaged:
            return
        if frame.pixels.shape != self._level.shape:
            return
        self._t_s.append(frame.t_ns * 1e-9)
        rows = frame.pixels[:, self._rows_at], self._level[:, self._rows_at]
        columns = frame.pixels[self._columns_at].T, self._level[self._columns_at].T
        self._rows.append(_ratios(*rows))
        self._columns.append(_ratios(*columns))

    @property
    def t_s(self) -> Floats:
        """(n,) times of the frames."""
        return np.array(self._t_s)

    @property
    def rows(self) -> Floats:
        """(n, h) light of the rows."""
        return np.array(self._rows, dtype=np.float64)

    @property
    def columns(self) -> Floats:
        """(n, w) light of the columns."""
        return np.array(self._columns, dtype=np.float64)


def _ratios(seen: NDArray[np.uint8], level: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the median ratio of each line; NaN where all of it is too dark or too bright."""
    tells = (level > _DARK_GREY) & (level < _FULL_GREY)
    ratios = np.where(tells, seen / np.maximum(level, 1.0), np.nan)
    ordered = np.sort(ratios, axis=1)
    # NaN are last; the median of the rest.
    count = tells.sum(axis=1)
    lines = np.arange(len(ordered))
    last = max(ordered.shape[1] - 1, 0)
    low = ordered[lines, np.clip((count - 1) // 2, 0, last)]
    high = ordered[lines, np.clip(count // 2, 0, last)]
    middle = 0.5 * (low + high)
    return np.where(count >= ordered.shape[1] // 4, middle, np.nan).astype(np.float32)
