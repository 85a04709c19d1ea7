"""Lengths of one part, as its file and the passages give them."""

from collections.abc import Sequence

import numpy as np

from viscount.outlet import Part
from viscount.values import Passage


def known_px(part: Part | None, scale_px_per_mm: float | None) -> float | None:
    """Return the length along the fall by the part's file, in px; None where it is not known."""
    if part is None or part.along_fall_mm is None or scale_px_per_mm is None:
        return None
    return part.along_fall_mm * scale_px_per_mm


def usual_px(passages: Sequence[Passage], known: float | None) -> float | None:
    """Return the usual length of one part in the picture; where none has one, what is `known`."""
    lengths = [p.length_px for p in passages if p.length_px is not None and p.parts == 1]
    return float(np.median(lengths)) if lengths else known


def greatest_mm(part: Part | None) -> float | None:
    """Return the greatest size of one part in mm; None where none is known."""
    if part is None:
        return None
    sizes = (part.overall_length_mm, part.diameter_mm, part.along_fall_mm)
    return max((size for size in sizes if size is not None), default=None)
