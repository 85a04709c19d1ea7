"""Where each moment of a run stands on a strip's page: in rows, quiet time drawn together."""

import math
from bisect import bisect
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

ROW_PX = 1200
"""Width of a row."""

_QUIET_PX = (70, ROW_PX)
"""Least and greatest width of a quiet stretch that is drawn closer together."""
_CLOSER = 20.0
_WORTH_IT = 3.0
"""A quiet stretch is drawn closer only where that saves this factor."""
_EMPTY_ROWS = 8
_TOUCHING = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A stretch of time with its place on the page.

    Attributes
    ----------
    start_s, end_s : from and to.
    width_px : how wide it is drawn.
    quiet : whether it is drawn closer together than the rest, since no mark is in it.
    """

    start_s: float
    end_s: float
    width_px: int
    quiet: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A piece in its row."""

    row: int
    left_px: int
    piece: Piece

    def x_px(self, t_s: float) -> float:
        """Return where a moment of it is drawn."""
        piece = self.piece
        share = (t_s - piece.start_s) / max(piece.end_s - piece.start_s, 1e-12)
        return self.left_px + share * piece.width_px


def laid_out(
    marks_s: Sequence[float], span_s: tuple[float, float], rate_px_s: float, part_s: float
) -> list[Placed]:
    """Return every stretch of a run with its place, in order of time.

    Rows end between two parts wherever that can be, so that no part is cut in two.

    Parameters
    ----------
    marks_s : moments of the passages, ascending.
    span_s : from the first moment to the last.
    rate_px_s : how many px a second takes.
    part_s : how long a part takes to pass the line.
    """
    placed: list[Placed] = []
    row, left = 0, 0
    for piece in _pieces(marks_s, span_s, rate_px_s, part_s):
        if left and left + piece.width_px > ROW_PX:
            row, left = row + 1, 0
        placed.append(Placed(row=row, left_px=left, piece=piece))
        left += piece.width_px
    return placed


def piece_at(placed: Sequence[Placed], t_s: float) -> Placed:
    """Return the piece that holds a moment; the nearest one outside of all."""
    place = bisect([one.piece.start_s for one in placed], t_s) - 1
    return placed[max(place, 0)]


def _pieces(
    marks_s: Sequence[float], span_s: tuple[float, float], rate_px_s: float, part_s: float
) -> list[Piece]:
    """Cut the span at the marks' cells; what lies between cells is quiet."""
    start, end = span_s
    if not marks_s:
        return _empty(start, end, rate_px_s)
    pieces: list[Piece] = []
    for low, high in _cells(marks_s, rate_px_s, part_s):
        low, high = max(low, start), min(high, end)
        pieces += _quiet(start, low, rate_px_s)
        if high > low:
            pieces.append(_drawn(low, high, rate_px_s))
        start = max(start, high)
    return pieces + _quiet(start, end, rate_px_s)


def _cells(marks_s: Sequence[float], rate_px_s: float, part_s: float) -> list[tuple[float, float]]:
    """Return the time about each mark, or about several whose parts overlap."""
    reach = 1.5 * part_s
    groups = [[marks_s[0]]]
    for one, other in pairwise(marks_s):
        fits = (other - groups[-1][0] + 2 * reach) * rate_px_s < ROW_PX
        if other - one < _TOUCHING * part_s and fits:
            groups[-1].append(other)
        else:
            groups.append([other])
    lows = [group[0] - reach for group in groups]
    highs = [group[-1] + reach for group in groups]
    for k, (before, after) in enumerate(pairwise(groups)):
        if highs[k] > lows[k + 1]:
            highs[k] = lows[k + 1] = (before[-1] + after[0]) / 2
    return list(zip(lows, highs, strict=True))


def _drawn(start_s: float, end_s: float, rate_px_s: float) -> Piece:
    width = max(round((end_s - start_s) * rate_px_s), 1)
    return Piece(start_s=start_s, end_s=end_s, width_px=min(width, ROW_PX), quiet=False)


def _quiet(start_s: float, end_s: float, rate_px_s: float) -> list[Piece]:
    """Return a stretch without marks; a short one is drawn like the rest."""
    natural = (end_s - start_s) * rate_px_s
    least, most = _QUIET_PX
    if natural <= _WORTH_IT * least:
        return [_drawn(start_s, end_s, rate_px_s)] if natural >= 1 else []
    width = round(min(max(natural / _CLOSER, least), most))
    return [Piece(start_s=start_s, end_s=end_s, width_px=width, quiet=True)]


def _empty(start_s: float, end_s: float, rate_px_s: float) -> list[Piece]:
    """Return a run without any mark, over so many rows that something missed would show."""
    natural = max((end_s - start_s) * rate_px_s, 1.0)
    rows = min(math.ceil(natural / ROW_PX), _EMPTY_ROWS)
    width = min(math.ceil(natural / rows), ROW_PX)
    step = (end_s - start_s) / rows
    edges = [start_s + k * step for k in range(rows)] + [end_s]
    closer = natural > rows * ROW_PX
    return [Piece(start_s=a, end_s=b, width_px=width, quiet=closer) for a, b in pairwise(edges)]
