"""The scale by a checkerboard held where parts fall."""

import math
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from viscount.codes import Code
from viscount.measure.scale.budget import Budget, Input, rectangular
from viscount.measure.scale.ruler import PITCH_SHARE, PLANE_SHARE, changing
from viscount.measure.scale.way import By, Way
from viscount.values import Level, Notice

Floats = NDArray[np.float64]

LEAST_CORNERS: Final = 3
"""Inner corners each way."""
_STEP_PX: Final = 1.0


def by_checkerboard(
    picture: NDArray[np.uint8],
    corners: tuple[int, int],
    square_mm: float,
    *,
    middle_px: tuple[float, float],
    source: str,
) -> Way:
    """Return the scale by a checkerboard, or why there is none.

    The board's plane is brought onto the picture by a homography, fitted to its corners by least
    squares; the scale is by how many px along the fall the picture moves for each mm on the board.

    Parameters
    ----------
    picture : uint8 (n, m), axis 0 along the fall (either way).
    corners : inner corners one way and the other, where four squares meet.
    square_mm : side of a square, > 0.
    middle_px : (along axis 0, along axis 1) of the view.
    """
    found = corners_in(picture, corners)
    if found is None:
        text = f"no checkerboard of {corners[0]} x {corners[1]} inner corners"
        notice = Notice(level=Level.INVALID, code=Code.NO_TICKS, text=text)
        nothing = Budget(inputs=())
        return Way(
            by=By.CHECKERBOARD,
            source=source,
            value=None,
            budget=nothing,
            what="nothing",
            notices=(notice,),
        )
    board, seen = found
    plane, covariance, scatter = _homography(board * square_mm, seen)
    at = np.array([middle_px[1], middle_px[0]])
    value, row = _scale_at(plane, at)
    u = math.sqrt(max(float(row @ covariance @ row), 0.0))
    half = 0.5 * picture.shape[0]
    ends = [_scale_at(plane, at + np.array([0.0, way * half]))[0] for way in (-1, 1)]
    change = (ends[1] - ends[0]) / value
    change_u = 2.0 * u / value
    inputs = (
        Input(name="scatter of the corners", u=u / value, freedom=2 * len(seen) - 8),
        Input(name="the squares' own size", u=rectangular(PITCH_SHARE)),
        Input(name="the board's place in depth", u=rectangular(PLANE_SHARE)),
    )
    return Way(
        by=By.CHECKERBOARD,
        source=source,
        value=value,
        budget=Budget(inputs=inputs).scaled(value),
        what=f"{len(seen)} corners of squares of {square_mm:g} mm, to {scatter:.2f} px",
        change=change,
        change_u=change_u,
        notices=changing(change, change_u),
    )


def corners_in(
    picture: NDArray[np.uint8], corners: tuple[int, int]
) -> tuple[Floats, Floats] | None:
    """Return corners on the board (n, 2), in squares, and where they are seen (n, 2), as (x, y);
    None where the board is not found either way round."""
    flags = cv2.CALIB_CB_NORMALIZE_IMAGE | cv2.CALIB_CB_EXHAUSTIVE | cv2.CALIB_CB_ACCURACY
    columns, rows = corners
    ok, seen = cv2.findChessboardCornersSB(picture, (columns, rows), flags=flags)
    if not ok or seen is None:
        return None
    number = np.arange(columns * rows)
    board = np.stack([number % columns, number // columns], axis=1).astype(np.float64)
    return board, np.asarray(seen, dtype=np.float64).reshape(-1, 2)


def _homography(board: Floats, seen: Floats) -> tuple[Floats, Floats, float]:
    """Return h (8,) from the picture to the board's mm, its covariance, and the scatter in px.

    ``X = (h0 x + h1 y + h2) / (h6 x + h7 y + 1)`` and so for Y; px are centred and scaled within,
    so that the fit is well conditioned. Gauss and Newton from the linear solution.
    """
    matrix, _ = cv2.findHomography(seen, board, 0)
    h = (np.asarray(matrix, dtype=np.float64) / matrix[2, 2]).reshape(-1)[:8]
    jacobian = np.empty((2 * len(seen), 8))
    for _ in range(6):
        mapped, local = _mapped(h, seen)
        jacobian = local
        left = (board - mapped).reshape(-1)
        step, *_ = np.linalg.lstsq(jacobian, left, rcond=None)
        h = h + step
    left = (board - _mapped(h, seen)[0]).reshape(-1)
    freedom = max(left.size - 8, 1)
    variance = float(left @ left) / freedom
    covariance = variance * np.linalg.pinv(jacobian.T @ jacobian)
    scale, _ = _scale_at(h, seen.mean(axis=0))
    return h, np.asarray(covariance), math.sqrt(variance) * scale


def _mapped(h: Floats, seen: Floats) -> tuple[Floats, Floats]:
    """Return (n, 2) mm on the board, and (2n, 8) their derivatives by h."""
    x, y = seen.T
    below = h[6] * x + h[7] * y + 1.0
    big_x = (h[0] * x + h[1] * y + h[2]) / below
    big_y = (h[3] * x + h[4] * y + h[5]) / below
    zero, one = np.zeros_like(x), np.ones_like(x)
    rows_x = np.stack([x, y, one, zero, zero, zero, -big_x * x, -big_x * y], axis=1)
    rows_y = np.stack([zero, zero, zero, x, y, one, -big_y * x, -big_y * y], axis=1)
    jacobian = np.stack([rows_x, rows_y], axis=1) / below[:, None, None]
    return np.stack([big_x, big_y], axis=1), jacobian.reshape(-1, 8)


def _scale_at(h: Floats, at: Floats) -> tuple[float, Floats]:
    """Return px per mm along axis 0 at (x, y), and its derivatives by h (8,)."""

    half = np.array([0.0, 0.5 * _STEP_PX])

    def scale(values: Floats) -> float:
        ends = np.stack([at - half, at + half])
        (x0, y0), (x1, y1) = _mapped(values, ends)[0]
        return _STEP_PX / math.hypot(x1 - x0, y1 - y0)

    row = np.empty(8)
    for k in range(8):
        small = 1e-6 * max(abs(float(h[k])), 1e-6)
        up, down = h.copy(), h.copy()
        up[k] += small
        down[k] -= small
        row[k] = (scale(up) - scale(down)) / (2 * small)
    return scale(h), row
