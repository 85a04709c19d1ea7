"""Columns of numbers that grow with the clip, up to a limit."""

from array import array

import numpy as np
from numpy.typing import NDArray


class Series:
    """A table of float64 with a fixed number of columns; rows beyond the limit are dropped.

    Parameters
    ----------
    columns : names, one for each number of a row.
    most : rows that are kept.
    """

    def __init__(self, *columns: str, most: int = 1 << 20) -> None:
        self._columns = {name: array("d") for name in columns}
        self._most = most

    def __len__(self) -> int:
        return len(next(iter(self._columns.values())))

    @property
    def full(self) -> bool:
        """Whether no more rows are kept."""
        return len(self) >= self._most

    def add(self, **row: float) -> None:
        """Add one row; every column must be named."""
        if self.full:
            return
        for name, column in self._columns.items():
            column.append(row[name])

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        """Return a column, (n,), as an array of its own."""
        return np.array(self._columns[name], dtype=np.float64)
