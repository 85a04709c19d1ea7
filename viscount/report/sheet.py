"""The page of a line strip: title, rows of pictures with marks and ruler, legend."""

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from viscount.report.film import Picture
from viscount.report.layout import ROW_PX, Placed, piece_at
from viscount.report.marks import Kind, Mark
from viscount.tally import Tally

Pixels = NDArray[np.uint8]
Colour = tuple[int, int, int]

# Blue, green, red, as OpenCV has them; shapes differ too, for eyes that see no colours.
_PAPER: Colour = (255, 255, 255)
_INK: Colour = (60, 50, 45)
_FAINT: Colour = (150, 140, 135)
_QUIET: Colour = (250, 238, 222)
_COLOURS: dict[Kind, Colour] = {
    Kind.COUNTED: (60, 50, 45),
    Kind.DOUBTFUL: (0, 90, 230),
    Kind.NO_PART: (150, 60, 160),
    Kind.AGAINST: (170, 100, 0),
}
_BLIND: Colour = (40, 40, 210)

_MARGIN = 14
_TITLE = 36
_MARKS = 34
_RULER = 24
_GAP = 10
_WIDE_PX = 120
"""From this height on a picture has room for parts side by side."""
_LEGEND = 30
_STEPS = (1.0, 2.0, 5.0)
_TICK_PX = 90
_FINE = 16
"""Fixed-point factor of OpenCV's drawing, as a shift of 4 bits."""


def drawn_sheet(
    tally: Tally,
    placed: Sequence[Placed],
    pictures: Sequence[Picture],
    marks: Sequence[Mark],
    *,
    ends_s: float | None = None,
) -> Pixels:
    """Return the page, uint8 (H, W, 3) in OpenCV's order of colours.

    Parameters
    ----------
    tally : what the run came to.
    placed, pictures : every piece with its place and its picture; at least one.
    marks : the passages.
    ends_s : where the strip breaks off before the run's end; None where it does not.
    """
    height = pictures[0].grey.shape[0]
    pitch = _MARKS + height + _RULER + _GAP
    rows = placed[-1].row + 1
    page = np.full((_TITLE + rows * pitch + _LEGEND, ROW_PX + 2 * _MARGIN, 3), _PAPER, np.uint8)
    for one, picture in zip(placed, pictures, strict=True):
        top = _TITLE + one.row * pitch + _MARKS
        _draw_picture(page, one, picture, top)
        _draw_ruler(page, one, top + height)
    for start, end in tally.frames.blind:
        for one in placed:
            top = _TITLE + one.row * pitch + _MARKS
            _draw_blind(page, one, (start, end), top + height)
    _draw_marks(page, placed, marks, pitch)
    if height >= _WIDE_PX:
        _draw_dots(page, placed, pictures[0], marks, pitch)
    _write(page, _title(tally), (_MARGIN, 24), _INK, size=0.55)
    _draw_legend(page, tally, placed, pictures, marks, ends_s)
    return page


def _title(tally: Tally) -> str:
    name = Path(tally.source).name.encode("ascii", "replace").decode("ascii")
    if tally.count is None:
        return f"{name}: no count, {tally.status.value}"
    parts = "part" if tally.count == 1 else "parts"
    return f"{name}: {tally.count} {parts} through the line, {tally.status.value}"


def _draw_picture(page: Pixels, one: Placed, picture: Picture, top: int) -> None:
    height, width = picture.grey.shape
    left = _MARGIN + one.left_px
    place = page[top : top + height, left : left + width]
    place[:] = picture.grey[:, :, None]
    if one.piece.quiet:
        place[:] = (0.75 * place + 0.25 * np.array(_QUIET)).astype(np.uint8)
    if not picture.seen.all():
        rows, columns = np.ogrid[:height, :width]
        stripes = ((rows + columns) % 8 < 2)[:, :, None]
        hatched = np.where(stripes, np.array(_FAINT, np.uint8), np.array(_PAPER, np.uint8))
        place[:, ~picture.seen] = hatched[:, ~picture.seen]


def _draw_ruler(page: Pixels, one: Placed, y: int) -> None:
    piece = one.piece
    left = _MARGIN + one.left_px
    right = left + piece.width_px - 1
    if piece.quiet:
        for x in range(left, right, 6):
            cv2.line(page, (x, y + 3), (min(x + 2, right), y + 3), _FAINT, 1)
        _write_centred(page, f"({piece.end_s - piece.start_s:.2f} s)", (left + right) / 2, y + 19)
        return
    cv2.line(page, (left, y + 3), (right, y + 3), _INK, 1)
    step, places = _tick_step(piece.width_px / (piece.end_s - piece.start_s))
    first = int(np.ceil(piece.start_s / step))
    for number in range(first, int(np.floor(piece.end_s / step)) + 1):
        x = round(_MARGIN + one.x_px(number * step))
        cv2.line(page, (x, y + 3), (x, y + 7), _INK, 1)
        _write_centred(page, f"{number * step:.{places}f} s", x, y + 19)


def _tick_step(rate_px_s: float) -> tuple[float, int]:
    """Return a round step in s that is wide enough for its label, and its decimals."""
    least = _TICK_PX / rate_px_s
    power = int(np.floor(np.log10(least)))
    for place in (power, power + 1):
        for step in _STEPS:
            if step * 10.0**place >= least:
                return step * 10.0**place, max(-place, 0)
    return 10.0 ** (power + 2), max(-power - 2, 0)


def _draw_blind(page: Pixels, one: Placed, blind: tuple[float, float], y: int) -> None:
    start, end = max(blind[0], one.piece.start_s), min(blind[1], one.piece.end_s)
    if end > start:
        left, right = (round(_MARGIN + one.x_px(t)) for t in (start, end))
        cv2.rectangle(page, (left, y + 1), (max(right, left + 2), y + 5), _BLIND, -1)


def _draw_marks(page: Pixels, placed: Sequence[Placed], marks: Sequence[Mark], pitch: int) -> None:
    taken: dict[tuple[int, int], float] = {}
    for mark in marks:
        one = piece_at(placed, mark.t_s)
        if mark.t_s > one.piece.end_s:
            continue  # beyond the end of a strip that breaks off
        x = _MARGIN + one.x_px(mark.t_s)
        base = _TITLE + one.row * pitch + _MARKS
        _draw_symbol(page, mark.kind, x, base - 7)
        # Labels that would run into each other stand on two levels.
        half = _width(mark.label, 0.42) / 2
        level = next((k for k in (0, 1) if taken.get((one.row, k), -1e9) < x - half - 3), None)
        if level is not None:
            taken[one.row, level] = x + half
            y = base - 16 - 10 * level
            _write_centred(page, mark.label, x, y, _COLOURS[mark.kind], 0.42)


def _draw_dots(
    page: Pixels, placed: Sequence[Placed], picture: Picture, marks: Sequence[Mark], pitch: int
) -> None:
    """Put a dot on each part: in a wide view a mark above it does not tell which is meant."""
    for mark in marks:
        one = piece_at(placed, mark.t_s)
        if mark.t_s <= one.piece.end_s:
            x, base = _MARGIN + one.x_px(mark.t_s), _TITLE + one.row * pitch + _MARKS
            place = (round(x), round(base + picture.y_px(mark.across_px)))
            cv2.circle(page, place, 4, _PAPER, -1, cv2.LINE_AA)
            cv2.circle(page, place, 2, _COLOURS[mark.kind], -1, cv2.LINE_AA)


def _draw_symbol(page: Pixels, kind: Kind, x: float, y: float) -> None:
    """Draw a mark's symbol about a point."""
    colour = _COLOURS[kind]
    shapes = {
        Kind.COUNTED: [(-4, -4), (4, -4), (0, 4)],
        Kind.AGAINST: [(-5, 4), (5, 4), (0, -5)],
        Kind.DOUBTFUL: [(0, -6), (6, 0), (0, 6), (-6, 0)],
    }
    if kind is Kind.NO_PART:
        centre = (round(x * _FINE), round(y * _FINE))
        cv2.circle(page, centre, 5 * _FINE, colour, 1, cv2.LINE_AA, 4)
        return
    points = np.array([[(x + dx) * _FINE, (y + dy) * _FINE] for dx, dy in shapes[kind]])
    corners = [points.round().astype(np.int32)]
    if kind is Kind.DOUBTFUL:
        cv2.polylines(page, corners, True, colour, 2, cv2.LINE_AA, 4)
    else:
        cv2.fillPoly(page, corners, colour, cv2.LINE_AA, 4)


def _draw_legend(
    page: Pixels,
    tally: Tally,
    placed: Sequence[Placed],
    pictures: Sequence[Picture],
    marks: Sequence[Mark],
    ends_s: float | None,
) -> None:
    """Explain whatever occurs on the page."""
    y = page.shape[0] - 12
    x = float(_MARGIN)
    shows = "each part that crosses the line shows once"
    if not marks:
        shows = "of each frame, what differs most near the line"
    x = _say(page, f"Time runs to the right; {shows}.", x, y)
    if marks and pictures[0].grey.shape[0] >= _WIDE_PX:
        x = _say(page, "A dot lies on each part that has a mark.", x, y)
    for kind in Kind:
        if any(mark.kind is kind for mark in marks):
            _draw_symbol(page, kind, x + 6, y - 4)
            x = _say(page, kind.value, x + 16, y)
    if any(one.piece.quiet for one in placed):
        cv2.rectangle(page, (round(x), y - 9), (round(x) + 18, y + 1), _QUIET, -1)
        x = _say(page, "no mark (for so long), drawn closer", x + 24, y)
    if not all(picture.seen.all() for picture in pictures):
        x = _say(page, "/// no frame", x, y)
    if tally.frames.blind:
        cv2.rectangle(page, (round(x), y - 6), (round(x) + 18, y - 2), _BLIND, -1)
        x = _say(page, "blind", x + 24, y)
    if ends_s is not None:
        _say(page, f"THE STRIP ENDS AT {ends_s:.3f} s", x, y)


def _say(page: Pixels, text: str, x: float, y: int) -> float:
    """Write one entry of the legend; return where the next one begins."""
    _write(page, text, (round(x), y), _INK)
    return x + _width(text) + 18


def _width(text: str, size: float = 0.42) -> int:
    return int(cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, size, 1)[0][0])


def _write_centred(
    page: Pixels, text: str, x: float, y: int, colour: Colour = _INK, size: float = 0.4
) -> None:
    _write(page, text, (round(x - _width(text, size) / 2), y), colour, size=size)


def _write(
    page: Pixels, text: str, place: tuple[int, int], colour: Colour, *, size: float = 0.42
) -> None:
    cv2.putText(page, text, place, cv2.FONT_HERSHEY_SIMPLEX, size, colour, 1, cv2.LINE_AA)
