"""A picture as a coarse grid of mean greys, and its light against that of an empty scene.

Parts cover a minority of each row and column of the grid, so that medians show the light.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

CELLS = 48
"""Cells along each side, at most."""

DARKEST, BRIGHTEST = 8.0, 250.0
"""Grey beyond which a cell tells nothing of the light: black, or clipped."""

DIM = 0.25
"""A cell darker than this share of the middle one tells too little."""

_MOST_ROWS = 480
"""Lines and columns of a picture that are looked at; in larger ones some are left out."""


def cells(pixels: NDArray[np.uint8] | Floats) -> Floats:
    """Return the mean grey of each cell, float32, at most (`CELLS`, `CELLS`), and less than
    one cell of the picture left out at its far borders.

    Parameters
    ----------
    pixels : uint8 or float32, (H, W).
    """
    (thin_rows, rows, high), (thin_columns, columns, wide) = map(_parting, pixels.shape)
    thinned = pixels[::thin_rows, ::thin_columns]
    whole = thinned[: rows * high, : columns * wide]
    # Down first: rows lie one behind the other in memory.
    lines = whole.reshape(rows, high, columns * wide).sum(axis=1, dtype=np.float32)
    sums = lines.reshape(rows, columns, wide).sum(axis=2)
    return np.asarray(sums / np.float32(high * wide), dtype=np.float32)


def cell_px(size: int) -> int:
    """Return how many px a cell takes of a side of the picture of this size."""
    thin, _, taken = _parting(size)
    return thin * taken


def _parting(size: int) -> tuple[int, int, int]:
    """Return the step from line to line looked at, the number of cells, and lines in each."""
    thin = max(1, size // _MOST_ROWS)
    lines = -(-size // thin)
    taken = -(-lines // CELLS)
    return thin, lines // taken, taken


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lightness:
    """The light of one frame relative to the empty scene's, which is 1.

    Attributes
    ----------
    whole : of the whole picture.
    rows, columns : (cells,) of each line of cells; NaN where none tells.
    """

    whole: float
    rows: Floats
    columns: Floats


class EmptyCells:
    """The empty scene, as a measure of each frame's light.

    Parameters
    ----------
    level : the scene's cells, as `cells` returns them.
    """

    def __init__(self, level: Floats) -> None:
        telling = (level >= max(DARKEST, DIM * float(np.median(level)))) & (level <= BRIGHTEST)
        self._inverse = np.where(telling, 1.0 / np.maximum(level, 1.0), np.nan).astype(np.float32)
        self._row_counts = telling.sum(axis=1)
        self._column_counts = telling.sum(axis=0)
        self._count = int(telling.sum())
        self.level = float(np.median(level[telling])) if self._count else float("nan")
        """Middle grey of the cells that tell."""

    @property
    def tells(self) -> bool:
        """Whether at least a tenth of the picture tells anything of the light."""
        return 10 * self._count >= self._inverse.size

    def lightness(self, frame: Floats) -> Lightness:
        """Return the light of a frame; its cells as `cells` returns them."""
        ratio = frame * self._inverse
        return Lightness(
            whole=float(_medians(ratio.reshape(1, -1), np.array([self._count]))[0]),
            rows=_medians(ratio, self._row_counts),
            columns=_medians(ratio.T, self._column_counts),
        )


def _medians(values: Floats, counts: NDArray[np.int64]) -> Floats:
    """Return the median of each row's numbers; sorting puts NaN last."""
    ordered = np.sort(values, axis=1)
    rows = np.arange(len(ordered))
    low = ordered[rows, np.maximum(counts - 1, 0) // 2]
    high = ordered[rows, np.maximum(counts // 2, 0).clip(max=ordered.shape[1] - 1)]
    return np.where(counts > 0, (low + high) / 2, np.nan).astype(np.float32)
