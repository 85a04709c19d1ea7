"""Small drawn scenes with exact truth: one picture after the other, parts placed to the subpixel.

Scenes are drawn along and across the fall and turned at the end, so that one script serves all
four directions.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.values import Blob, Falls, Frame

BACKGROUND = 100.0
"""Mean grey of the empty view; it rises by `TILT` from pixel to pixel across the fall."""
TILT = 0.08
DARK = 40.0
BRIGHT = 200.0
SHAPE = (131, 91)
"""Usual size of the picture along and across the fall, px."""

_FIRST_INDEX = 5
_FIRST_T_NS = 1_000_003
_FRAME_NS = 8_333_333


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A rectangle, by its centre and its sizes along and across the fall, in px."""

    along: float
    across: float
    length: float
    width: float

    @property
    def area(self) -> float:
        """Area in px²."""
        return self.length * self.width

    def coverage(self, shape: tuple[int, int]) -> NDArray[np.float64]:
        """Return the covered fraction of each pixel, (along, across)."""
        return np.outer(
            _overlap(self.along, self.length, shape[0]),
            _overlap(self.across, self.width, shape[1]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """An annulus, by its centre and its radii, in px."""

    along: float
    across: float
    outer: float
    inner: float

    @property
    def area(self) -> float:
        """Area in px², the bore left out."""
        return float(np.pi) * (self.outer**2 - self.inner**2)

    @property
    def length(self) -> float:
        """Size along the fall, px."""
        return 2 * self.outer

    @property
    def width(self) -> float:
        """Size across the fall, px."""
        return 2 * self.outer

    def coverage(self, shape: tuple[int, int]) -> NDArray[np.float64]:
        """Return the covered fraction of each pixel, (along, across)."""
        rows, columns = np.ogrid[: shape[0], : shape[1]]
        distance = np.hypot(rows - self.along, columns - self.across)
        disc = np.clip(self.outer - distance + 0.5, 0, 1)
        return np.asarray(disc - np.clip(self.inner - distance + 0.5, 0, 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part: shapes that touch and do not overlap, all of one grey."""

    shapes: Sequence[Bar | Ring]
    grey: float

    @property
    def area(self) -> float:
        """Area in px²."""
        return sum(shape.area for shape in self.shapes)

    @property
    def centre(self) -> tuple[float, float]:
        """Centre of area, (along, across)."""
        along = sum(shape.area * shape.along for shape in self.shapes) / self.area
        across = sum(shape.area * shape.across for shape in self.shapes) / self.area
        return along, across

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Its true edges: (along from, across from, along to, across to)."""
        return (
            min(shape.along - shape.length / 2 for shape in self.shapes),
            min(shape.across - shape.width / 2 for shape in self.shapes),
            max(shape.along + shape.length / 2 for shape in self.shapes),
            max(shape.across + shape.width / 2 for shape in self.shapes),
        )

    def inside_by(self, shape: tuple[int, int]) -> float:
        """Return its least distance from the picture's border; negative where it is cut."""
        a0, c0, a1, c1 = self.extent
        return min(a0 + 0.5, c0 + 0.5, shape[0] - 0.5 - a1, shape[1] - 0.5 - c1)


def bar(along: float, across: float, grey: float) -> Part:
    """Return a bar of 36 x 24 px, standing in the direction of the fall."""
    shape = Bar(along=along, across=across, length=36, width=24)
    return Part(shapes=[shape], grey=grey)


def screw(along: float, across: float, grey: float) -> Part:
    """Return a head of 10 x 24 px, and upon it, downstream, a shank of 30 x 12 px."""
    head = Bar(along=along, across=across, length=10, width=24)
    shank = Bar(along=along + 20, across=across, length=30, width=12)
    return Part(shapes=[head, shank], grey=grey)


def washer(along: float, across: float, grey: float) -> Part:
    """Return an annulus of outer radius 20 px and inner radius 8 px."""
    return Part(shapes=[Ring(along=along, across=across, outer=20, inner=8)], grey=grey)


class Film:
    """Draws one frame after the other, each with its time.

    Parameters
    ----------
    falls : the direction in which the pictures are turned.
    shape : size of the picture along and across the fall, px.
    noise : standard deviation of the noise, in grey levels.
    """

    def __init__(self, falls: Falls, shape: tuple[int, int] = SHAPE, *, noise: float = 2.0) -> None:
        self.falls = falls
        self.shape = shape
        self._rng = np.random.default_rng(20_406)
        self._field = self._rng.normal(0.0, noise, (shape[0] + 200, shape[1] + 200))
        self._empty = BACKGROUND + TILT * (np.arange(shape[1]) - shape[1] / 2)[None, :]
        self._drawn = 0

    def frame(self, *parts: Part) -> Frame:
        """Return the next frame, read-only, with these parts in it."""
        canvas = np.repeat(self._empty, self.shape[0], axis=0)
        for part in parts:
            for shape in part.shapes:
                canvas += shape.coverage(self.shape) * (part.grey - canvas)
        a, c = self._rng.integers(0, 200, 2)
        canvas += self._field[a : a + self.shape[0], c : c + self.shape[1]]
        grey = np.clip(np.rint(canvas), 0, 255).astype(np.uint8)
        pixels = np.array(_turned(grey, self.falls), order="C")
        pixels.flags.writeable = False
        # One index is left out, and times are no multiple of anything: an answer must carry
        # the frame's own, and not a count of calls.
        index = _FIRST_INDEX + self._drawn + (self._drawn > 3)
        t_ns = _FIRST_T_NS + index * _FRAME_NS
        self._drawn += 1
        return Frame(index=index, t_ns=t_ns, pixels=pixels)

    def centre(self, blob: Blob) -> tuple[float, float]:
        """Return a blob's centre along and across the fall, as the scene was drawn."""
        along, across = (blob.y_px, blob.x_px) if self.falls.vertical else (blob.x_px, blob.y_px)
        return (along if self.falls.sign > 0 else self.shape[0] - 1 - along), across

    def extent(self, blob: Blob) -> tuple[float, float, float, float]:
        """Return the edges of a blob's box as the scene was drawn, like `Part.extent`."""
        x0, y0, x1, y1 = (edge - 0.5 for edge in blob.box)
        a0, c0, a1, c1 = (y0, x0, y1, x1) if self.falls.vertical else (x0, y0, x1, y1)
        if self.falls.sign < 0:
            a0, a1 = self.shape[0] - 1 - a1, self.shape[0] - 1 - a0
        return a0, c0, a1, c1

    def profile(self, blob: Blob) -> NDArray[np.uint16]:
        """Return a blob's profile in order down the fall."""
        return blob.profile if self.falls.sign > 0 else blob.profile[::-1]


def _overlap(centre: float, size: float, count: int) -> NDArray[np.float64]:
    """Return how much of each of `count` pixels a stretch covers, 0 to 1."""
    pixels = np.arange(count)
    upper = np.minimum(pixels + 0.5, centre + size / 2)
    lower = np.maximum(pixels - 0.5, centre - size / 2)
    return np.asarray(np.clip(upper - lower, 0, 1))


def _turned(grey: NDArray[np.uint8], falls: Falls) -> NDArray[np.uint8]:
    """Turn a picture drawn with the fall down its rows."""
    downstream = grey if falls.sign > 0 else grey[::-1]
    return downstream if falls.vertical else downstream.T
