"""Rows of figures of which the latest are kept."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Ring:
    """Keeps the latest rows, in the order in which they came.

    Parameters
    ----------
    size : so many rows. columns : figures in each.
    """

    def __init__(self, size: int, columns: int) -> None:
        self._rows = np.full((2 * size, columns), np.nan)
        self._size = size
        self._first = self._end = 0

    def __len__(self) -> int:
        return self._end - self._first

    @property
    def rows(self) -> Floats:
        """(n, columns) the rows kept, oldest first; a view."""
        return self._rows[self._first : self._end]

    @property
    def nbytes(self) -> int:
        """Memory in use, whatever is in it."""
        return self._rows.nbytes

    def add(self, *figures: float) -> None:
        """Append a row; where it is full the oldest gives way."""
        if self._end == len(self._rows):
            kept = self._rows[self._end - self._size + 1 :].copy()
            self._rows[: len(kept)] = kept
            self._first, self._end = 0, len(kept)
        self._rows[self._end] = figures
        self._end += 1
        self._first = max(self._first, self._end - self._size)

    def clear(self) -> None:
        """Forget all."""
        self._first = self._end = 0
