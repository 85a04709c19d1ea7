"""Pictures of a recording to draw on: its first, some in turn, and where everything went."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from viscount.devices.cameras.source import open_source
from viscount.errors import SourceError
from viscount.values import Frame

Pixels = NDArray[np.uint8]

PATHS = "paths of all parts"
"""The name of the picture of where everything went."""

MOST_FRAMES = 12
"""So many pictures in turn are kept, spread over the recording."""
_MOST_TRACED = 2000
"""A long recording is traced in every so-many-th frame."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Still:
    """A picture to draw on: uint8, (H, W), with what it shows in words."""

    name: str
    pixels: Pixels


def first_still(source: str | Path) -> Still:
    """Return the first picture of a recording.

    Raises
    ------
    viscount.errors.ViscountError : there is none.
    """
    with open_source(source) as camera:
        frame = next(iter(camera.frames()), None)
        if frame is None:
            raise SourceError("no picture could be decoded", where=str(source))
        return _still_of(frame)


class Stills:
    """Gathers pictures while a recording goes by.

    Parameters
    ----------
    frames : how many there will be, if that is known.
    """

    def __init__(self, frames: int | None) -> None:
        self._every = 1 if frames is None else max(frames // _MOST_TRACED, 1)
        self._kept: list[Frame] = []
        self._step = 1 if frames is None else max(frames // MOST_FRAMES, 1)
        self._first: Pixels | None = None
        self._away: Pixels | None = None
        self._paths: Pixels | None = None

    def add(self, frame: Frame) -> None:
        """Look at one frame; of some the pixels are copied, none is kept."""
        if frame.index % self._step == 0:
            self._kept.append(Frame(index=frame.index, t_ns=frame.t_ns, pixels=frame.pixels.copy()))
            if len(self._kept) > 2 * MOST_FRAMES:
                self._step *= 2
                self._kept = [one for one in self._kept if one.index % self._step == 0]
        if frame.index % self._every == 0:
            self._trace(frame.pixels)

    def taken(self) -> tuple[Still, ...]:
        """Return where everything went, then the pictures in turn."""
        return tuple(self._taken())

    def _taken(self) -> Iterator[Still]:
        if self._paths is not None:
            yield Still(name=PATHS, pixels=self._paths)
        for frame in self._kept:
            yield _still_of(frame)

    def _trace(self, pixels: Pixels) -> None:
        """Keep each pixel as it was when it was furthest from the first picture."""
        if self._first is None or self._away is None or self._paths is None:
            self._first, self._paths = pixels.copy(), pixels.copy()
            self._away = np.zeros_like(pixels)
            return
        away = np.maximum(pixels, self._first) - np.minimum(pixels, self._first)
        further = away > self._away
        np.copyto(self._away, away, where=further)
        np.copyto(self._paths, pixels, where=further)


def _still_of(frame: Frame) -> Still:
    name = "first picture" if frame.index == 0 else f"picture at {frame.t_ns * 1e-9:.2f} s"
    return Still(name=name, pixels=np.ascontiguousarray(frame.pixels))
