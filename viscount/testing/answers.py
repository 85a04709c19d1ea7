"""What must be true of every answer of a detector, whatever the scene."""

import math
from typing import Any

import numpy as np

from viscount.values import Blob, Falls, Frame, Notice, Seeing, Sighting

_ROUNDING = 1e-6


def require(holds: bool, words: str) -> None:
    """Raise AssertionError with these words unless the condition holds, also under ``-O``."""
    if not holds:
        raise AssertionError(words)


def check_sighting(sighting: Sighting, frame: Frame, *, falls: Falls) -> None:
    """Assert that an answer belongs to its frame and that each of its blobs is whole.

    Raises
    ------
    AssertionError
        Saying what is wrong, and in which frame.
    """
    where = f"frame {frame.index}"
    require(
        isinstance(sighting, Sighting),
        f"{where}: see() returned a {type(sighting).__name__}, not a Sighting",
    )
    require(
        sighting.index == frame.index,
        f"{where}: the answer has index {sighting.index}; it must carry the frame's own",
    )
    require(
        sighting.t_ns == frame.t_ns,
        f"{where}: the answer has t_ns {sighting.t_ns}, the frame {frame.t_ns}",
    )
    require(isinstance(sighting.state, Seeing), f"{where}: state is {sighting.state!r}")
    contrast = sighting.detectable_contrast
    require(
        contrast is None or (math.isfinite(contrast) and contrast > 0),
        f"{where}: detectable_contrast is {contrast}; it must be finite and above 0, or None",
    )
    for name, kind in (("notices", Notice), ("blobs", Blob)):
        held = getattr(sighting, name)
        require(
            isinstance(held, tuple) and all(isinstance(one, kind) for one in held),
            f"{where}: {name} must be a tuple of {kind.__name__}",
        )
    for number, blob in enumerate(sighting.blobs):
        _check_blob(blob, frame.pixels.shape, falls, f"{where}, blob {number}")


def _check_blob(blob: Blob, shape: tuple[int, ...], falls: Falls, where: str) -> None:
    height, width = shape
    require(
        list(map(type, blob.box)) == [int] * 4,
        f"{where}: box is {blob.box!r}, not four ints",
    )
    x0, y0, x1, y1 = blob.box
    require(
        0 <= x0 < x1 <= width and 0 <= y0 < y1 <= height,
        f"{where}: box {blob.box} is not half-open within {width} x {height}",
    )
    require(
        x0 - 0.5 <= blob.x_px <= x1 - 0.5 and y0 - 0.5 <= blob.y_px <= y1 - 0.5,
        f"{where}: centre ({blob.x_px}, {blob.y_px}) is outside box {blob.box}",
    )
    require(
        all(math.isfinite(sigma) and sigma > 0 for sigma in (blob.sigma_x_px, blob.sigma_y_px)),
        f"{where}: sigma is ({blob.sigma_x_px}, {blob.sigma_y_px}); both must be finite and > 0",
    )
    touches = x0 == 0 or y0 == 0 or x1 == width or y1 == height
    require(
        bool(blob.cut_by_edge) == touches,
        f"{where}: cut_by_edge is {blob.cut_by_edge}, with box {blob.box} in {width} x {height}",
    )
    xx, xy, yy = blob.moments
    require(
        all(map(math.isfinite, blob.moments))
        and min(xx, yy) >= 0
        and xx * yy - xy * xy >= -_ROUNDING * max(1.0, xx * yy),
        f"{where}: moments {blob.moments} are not those of any region",
    )
    _check_profile(blob, falls, where)


def _check_profile(blob: Blob, falls: Falls, where: str) -> None:
    x0, y0, x1, y1 = blob.box
    along, across = (y1 - y0, x1 - x0) if falls.vertical else (x1 - x0, y1 - y0)
    profile: Any = blob.profile
    require(
        isinstance(profile, np.ndarray) and profile.dtype == np.uint16 and profile.ndim == 1,
        f"{where}: profile must be one row of uint16",
    )
    require(
        len(profile) == along,
        f"{where}: profile has {len(profile)} entries for a box {along} px long along the fall",
    )
    require(
        int(profile.max()) <= across,
        f"{where}: profile is up to {profile.max()} px wide in a box {across} px wide",
    )
    total = int(profile.sum(dtype=np.int64))
    require(
        math.isclose(total, blob.area_px, rel_tol=_ROUNDING) and total > 0,
        f"{where}: profile sums to {total}, area is {blob.area_px}",
    )
    require(
        not profile.flags.writeable,
        f"{where}: profile can be written to; set profile.flags.writeable = False",
    )


def same_sighting(one: Sighting, other: Sighting) -> bool:
    """Return whether two answers say the same, to rounding."""
    return (
        (one.index, one.t_ns, one.state, one.notices, len(one.blobs))
        == (other.index, other.t_ns, other.state, other.notices, len(other.blobs))
        and _close(one.detectable_contrast, other.detectable_contrast)
        and all(map(_same_blob, one.blobs, other.blobs))
    )


def _same_blob(one: Blob, other: Blob) -> bool:
    return (
        (one.box, one.cut_by_edge) == (other.box, other.cut_by_edge)
        and np.array_equal(one.profile, other.profile)
        and np.allclose(_figures(one), _figures(other), rtol=_ROUNDING, atol=_ROUNDING)
    )


def _figures(blob: Blob) -> tuple[float, ...]:
    sigmas = (blob.sigma_x_px, blob.sigma_y_px)
    return (blob.x_px, blob.y_px, *sigmas, blob.area_px, *blob.moments)


def _close(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=_ROUNDING)
