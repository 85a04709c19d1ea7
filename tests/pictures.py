"""Single pictures for the tests of seeing, drawn here: shapes to the sub-pixel, light, noise.

Coverage is exact for upright boxes and the mean of 64 samples per pixel for all else.
"""

from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from viscount.seams import Detector
from viscount.values import Frame, Seeing, Sighting

Picture = NDArray[np.float64]

GREY, NOISE = 100.0, 2.0
"""The empty scene, and the standard deviation of its noise."""

FRAME_NS = 8_333_333

_SAMPLES = 8


def box(
    shape: tuple[int, int], x: float, y: float, width: float = 16.0, length: float = 32.0
) -> Picture:
    """Return the coverage of an upright box by its centre and sizes, in px."""

    def overlap(size: int, middle: float, extent: float) -> Picture:
        at = np.arange(size)
        inside = np.minimum(middle + extent / 2, at + 0.5) - np.maximum(
            middle - extent / 2, at - 0.5
        )
        return np.clip(inside, 0, 1)

    return np.outer(overlap(shape[0], y, length), overlap(shape[1], x, width))


def sampled(
    shape: tuple[int, int], inside: Callable[[Picture, Picture], NDArray[np.bool_]]
) -> Picture:
    """Return the coverage of any shape; `inside` is asked of image coordinates x and y."""
    rows, columns = ((np.arange(size * _SAMPLES) + 0.5) / _SAMPLES - 0.5 for size in shape)
    x, y = np.meshgrid(columns, rows)
    return inside(x, y).reshape(shape[0], _SAMPLES, shape[1], _SAMPLES).mean(axis=(1, 3))


def ring(shape: tuple[int, int], x: float, y: float, outer: float, inner: float = 0.0) -> Picture:
    """Return the coverage of a ring, or of a disc, by its centre and radii in px."""

    def inside(across: Picture, down: Picture) -> NDArray[np.bool_]:
        square = (across - x) ** 2 + (down - y) ** 2
        return (square <= outer**2) & (square >= inner**2)

    return sampled(shape, inside)


def empty(shape: tuple[int, int], grey: float = GREY) -> Picture:
    return np.full(shape, grey)


def with_part(scene: Picture, coverage: Picture, grey: float) -> Picture:
    """Return the scene with a part of this grey in front of it."""
    return scene + coverage * (grey - scene)


def pixels(
    scene: Picture, rng: np.random.Generator | None, noise: float = NOISE
) -> NDArray[np.uint8]:
    """Return the picture a camera takes of the scene, read-only."""
    grey = scene if rng is None else scene + rng.normal(0, noise, scene.shape)
    picture = np.clip(np.rint(grey), 0, 255).astype(np.uint8)
    picture.flags.writeable = False
    return picture


def film(scenes: Iterable[Picture], seed: int = 1, noise: float = NOISE) -> list[Frame]:
    """Return frames of these scenes, with noise."""
    rng = np.random.default_rng(seed)
    return [
        Frame(index=index, t_ns=index * FRAME_NS, pixels=pixels(scene, rng, noise))
        for index, scene in enumerate(scenes)
    ]


def watched(detector: Detector, frames: Sequence[Frame], primed: int = 0) -> list[Sighting]:
    """Return a detector's answers, after it was primed with so many of the frames."""
    if primed:
        detector.prime(frames[:primed])
    return [detector.see(frame) for frame in frames]


def counts(sightings: Iterable[Sighting]) -> list[int]:
    return [len(sighting.blobs) for sighting in sightings]


def states(sightings: Iterable[Sighting]) -> list[Seeing]:
    return [sighting.state for sighting in sightings]
