"""How much of a box of the picture the gate's blade covers, frame by frame.

With O the box while the gate is open and S while it is shut, a picture I of it is
O + c (S - O) where a share c is covered; the c that fits best is
sum (I - O)(S - O) / sum (S - O)² (least squares).
"""

from array import array
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.errors import SourceError, UsageError
from viscount.values import Frame

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAST_GREY: Final = 8.0
"""A blade that differs by less from what is behind it cannot be told."""
LEAST_FRAMES: Final = 3
MOST_BYTES: Final = 400_000_000
_MAD_TO_SIGMA: Final = 1.4826


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shares:
    """The share of the box that is covered in each of n frames.

    Attributes
    ----------
    t_s : (n,) times at which the box is exposed, from the first frame.
    share : (n,) 0 open, 1 shut; a little beyond by noise.
    sigma : standard uncertainty of each share.
    """

    t_s: Floats
    share: Floats
    sigma: float


class BladeBox:
    """The box of every frame; keeps its pixels.

    Parameters
    ----------
    box : (x0, y0, x1, y1), half-open.
    delay_s : how long after a frame's time the box is exposed.
    """

    def __init__(self, box: tuple[int, int, int, int], delay_s: float = 0.0) -> None:
        self._box, self._delay_s = box, delay_s
        self._t_ns = array("q")
        self._kept: list[NDArray[np.uint8]] = []
        self._first_ns: int | None = None

    def look(self, frame: Frame) -> None:
        """Take in one frame; a repeated or damaged picture says nothing.

        Raises
        ------
        UsageError : a box outside the picture, or more frames than can be kept.
        """
        x0, y0, x1, y1 = self._box
        height, width = frame.pixels.shape
        if self._first_ns is None:
            self._first_ns = frame.t_ns
        if not (0 <= x0 < x1 <= width and 0 <= y0 < y1 <= height):
            raise UsageError(
                f"a box {x0} {y0} {x1} {y1} in a picture of {width} x {height} px",
                where="--blade-px",
                allowed="x0 < x1, y0 < y1, inside the picture",
            )
        if frame.repeated or frame.damaged:
            return
        if len(self._kept) * (x1 - x0) * (y1 - y0) > MOST_BYTES:
            raise UsageError("too long a clip for so large a box", remedy="cut the clip")
        self._t_ns.append(frame.t_ns - self._first_ns)
        self._kept.append(frame.pixels[y0:y1, x0:x1].copy())

    @property
    def t_s(self) -> Floats:
        """(n,) when the box of each frame was exposed."""
        return 1e-9 * np.array(self._t_ns, dtype=np.float64) + self._delay_s

    def shares(self, is_open: Bools, is_shut: Bools) -> Shares:
        """Return what is covered, given (n,) which frames surely show it open, and shut.

        Raises
        ------
        SourceError : no frames of the one or the other, or no difference between them.
        """
        for which, name in ((is_open, "open"), (is_shut, "shut")):
            if which.sum() < LEAST_FRAMES:
                raise SourceError(
                    f"{int(which.sum())} frames that show the gate {name} and at rest",
                    allowed=f"{LEAST_FRAMES} or more, before the commands",
                    remedy="let the gate rest between two commands; see that the log fits the clip",
                )
        pictures = np.stack(self._kept).reshape(len(self._kept), -1)
        opened = np.median(pictures[is_open], axis=0)
        change = np.median(pictures[is_shut], axis=0) - opened
        power = float(change @ change)
        if not power or float(np.abs(change).max()) < LEAST_GREY:
            raise SourceError(
                "the gate looks the same open and shut in this box",
                where="--blade-px",
                remedy="put the box on the way of the blade's edge; see that the log fits the clip",
            )
        share = (pictures @ change - opened @ change) / power
        rest = np.concatenate([share[is_open], share[is_shut] - 1.0])
        sigma = _MAD_TO_SIGMA * float(np.median(np.abs(rest - np.median(rest))))
        return Shares(t_s=self.t_s, share=share, sigma=max(sigma, 1e-4))
