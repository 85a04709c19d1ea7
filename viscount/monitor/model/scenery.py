"""Where things are in the picture: the line, the beam, the blade."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.values import Falls

Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenery:
    """The picture and what is drawn into it.

    Attributes
    ----------
    shape : (height, width) of the pictures.
    falls : direction of the fall.
    line_px, beam_px, blade_px : along the fall, image coordinates; None where unknown.
    """

    shape: tuple[int, int]
    falls: Falls
    line_px: float
    beam_px: float | None = None
    blade_px: float | None = None

    @property
    def along_px(self) -> int:
        """Size of the picture along the fall."""
        return self.shape[0] if self.falls.vertical else self.shape[1]

    @property
    def across_px(self) -> int:
        """Size of the picture across the fall."""
        return self.shape[1] if self.falls.vertical else self.shape[0]

    def below_line_px(self, at_px: float | None) -> float | None:
        """Return how far downstream from the line a place is; None where it is unknown."""
        return None if at_px is None else self.falls.sign * (at_px - self.line_px)

    def upright(self, pixels: Pixels) -> Pixels:
        """Return a picture with the fall along its rows, downstream last; a view."""
        turned = pixels if self.falls.vertical else pixels.T
        return turned if self.falls.sign > 0 else turned[::-1]

    @property
    def line_row(self) -> float:
        """The line in an upright picture."""
        return self.line_px if self.falls.sign > 0 else self.along_px - 1 - self.line_px
