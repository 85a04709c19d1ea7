"""Single parts as they were seen: size, outline, and what they did to the beam."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from viscount.motion.looks import Look, look_of
from viscount.motion.sight import Sight
from viscount.motion.speed import SpeedModel
from viscount.motion.track import Track
from viscount.outlet.taught import PLACES
from viscount.values import Blob, Falls, Passage, Pulse

Floats = NDArray[np.float64]
Blobs = Mapping[int, tuple[Blob, ...]]
"""What the detector saw, by the number of the frame."""

PIECE_REACH = 0.15
"""Pieces of one part lie within its length and this share of it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """One single part as the camera saw it, in px.

    Attributes
    ----------
    passage : when it crossed the line, and how fast.
    look : its size, with what the exposure adds.
    profile : (PLACES,) width from its upstream end to its downstream one, the greatest 1.
    """

    passage: Passage
    look: Look
    profile: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class AtBeam:
    """What one single part did to the beam: its pulses, none where it gave none, and its speed
    there in px/s."""

    pulses: tuple[Pulse, ...]
    speed: float


def seen_of(
    track: Track,
    passage: Passage,
    blobs: Blobs,
    model: SpeedModel,
    falls: Falls,
    line_time_along_s: float,
    *,
    piece_length_px: float | None = None,
) -> Seen | None:
    """Return how the part of a counted track looks; None where it was too seldom seen whole.

    Parameters
    ----------
    blobs : of all frames in which the track was seen.
    piece_length_px : where a glint cuts parts in pieces, the length of a whole one; the pieces
        within it are put together.
    """
    found = [
        (sight, shape)
        for sight in track.whole
        if (shape := _shape(sight, blobs.get(sight.frame, ()), falls, piece_length_px)) is not None
    ]
    if not found:
        return None
    if piece_length_px is not None:
        # Each sighting as if its pieces had been one region.
        track = replace(track, sights=[_as_shown(sight, shape) for sight, shape in found])
    look = look_of(track, model, line_time_along_s)
    if look is None:
        return None
    profile = np.median([_resampled(shape.widths) for _, shape in found], axis=0)
    return Seen(passage=passage, look=look, profile=profile / profile.max())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Shape:
    """What a sighting shows of a part, its pieces put together; widths from the upstream end."""

    area: float
    var_along: float
    var_across: float
    widths: Floats


def _as_shown(sight: Sight, shape: _Shape) -> Sight:
    return replace(
        sight,
        length=float(shape.widths.size),
        area=shape.area,
        var_along=shape.var_along,
        var_across=shape.var_across,
    )


def _shape(
    sight: Sight, blobs: Sequence[Blob], falls: Falls, piece_length_px: float | None
) -> _Shape | None:
    """Return what a sighting shows; None where that is not all of the part."""
    if not blobs:
        return None
    own = min(
        blobs, key=lambda b: abs(b.area_px - sight.area) + abs(_extent([b], falls) - sight.length)
    )
    pieces = [own]
    if piece_length_px is not None:
        reach = (1.0 + PIECE_REACH) * piece_length_px
        pieces = [b for b in blobs if not b.cut_by_edge and _extent([own, b], falls) <= reach]
        if not pieces or _extent(pieces, falls) < (1.0 - PIECE_REACH) * piece_length_px:
            return None
    low = min(_ends(b, falls)[0] for b in pieces)
    widths = np.zeros(_extent(pieces, falls))
    for blob in pieces:
        start = _ends(blob, falls)[0] - low
        widths[start : start + blob.profile.size] += blob.profile
    places = np.array([_centre(b, falls) for b in pieces])
    areas = np.array([b.area_px for b in pieces])
    shares = areas / areas.sum()
    # The theorem of parallel axes.
    moments = shares @ np.array([_moments(b, falls) for b in pieces])
    moments += shares @ (places - shares @ places) ** 2
    return _Shape(
        area=float(areas.sum()),
        var_along=float(moments[0]),
        var_across=float(moments[1]),
        widths=widths if falls.sign > 0 else widths[::-1],
    )


def _resampled(widths: Floats) -> Floats:
    """Return the mean width in each of `PLACES` equal stretches of a profile."""
    edges = np.linspace(0.0, widths.size, PLACES + 1)
    up_to = np.concatenate([[0.0], np.cumsum(widths)])
    covered = np.diff(np.interp(edges, np.arange(widths.size + 1.0), up_to))
    return np.asarray(covered / np.diff(edges))


def _centre(blob: Blob, falls: Falls) -> tuple[float, float]:
    """Return the centre along and across the fall."""
    return (blob.y_px, blob.x_px) if falls.vertical else (blob.x_px, blob.y_px)


def _moments(blob: Blob, falls: Falls) -> tuple[float, float]:
    """Return the second central moments along and across the fall."""
    xx, _, yy = blob.moments
    return (yy, xx) if falls.vertical else (xx, yy)


def _ends(blob: Blob, falls: Falls) -> tuple[int, int]:
    x0, y0, x1, y1 = blob.box
    return (y0, y1) if falls.vertical else (x0, x1)


def _extent(blobs: Sequence[Blob], falls: Falls) -> int:
    ends = [_ends(blob, falls) for blob in blobs]
    return max(high for _, high in ends) - min(low for low, _ in ends)
