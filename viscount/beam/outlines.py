"""Where a straight line along the fall enters and leaves a part, by the part's sizes.

A line passes the part's middle at an offset across the fall. All lengths in mm.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TURNS = 16
"""A hexagon is looked at in so many positions of its turn by a sixth."""


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Lines across a part, one for each element; all arrays have one shape (n,).

    Attributes
    ----------
    offset : of the line from the middle.
    late : from the part's head, along the fall, to where the line first meets it.
    lead, bore, trail : lengths of what a line meets: material, the hole, material. Where it misses
        the hole, `bore` and `trail` are 0.
    """

    offset: Floats
    late: Floats
    lead: Floats
    bore: Floats
    trail: Floats


def round_lines(diameter: float, bore: float, offsets: Floats) -> Lines:
    """Return the chords of a disk with a round hole."""
    half = _half_chord(diameter / 2, offsets)
    return _with_bore(offsets, -half, half, bore, diameter / 2)


def hexagon_lines(across_flats: float, bore: float, offsets: Floats) -> Lines:
    """Return the chords of a hexagon with a round hole, over even turns; (n * TURNS,)."""
    turns = (np.arange(TURNS) + 0.5) * (math.pi / 3 / TURNS)
    x, turn = (a.ravel() for a in np.meshgrid(offsets, turns, indexing="ij"))
    low, high = np.full_like(x, -np.inf), np.full_like(x, np.inf)
    for k in range(3):
        # The strip |x cos a + y sin a| <= s / 2 between two opposite flats.
        cos, sin = np.cos(turn + k * math.pi / 3), np.sin(turn + k * math.pi / 3)
        sin = np.where(np.abs(sin) < 1e-9, 1e-9, sin)
        ends = np.stack([(-across_flats / 2 - x * cos) / sin, (across_flats / 2 - x * cos) / sin])
        low, high = np.maximum(low, ends.min(axis=0)), np.minimum(high, ends.max(axis=0))
    meets = low < high
    corners = turn[:, None] + math.pi / 6 + np.arange(6) * math.pi / 3
    head = across_flats / math.sqrt(3.0) * np.sin(corners).max(axis=1)
    return _with_bore(x, np.where(meets, low, 0.0), np.where(meets, high, 0.0), bore, head)


def _with_bore(
    offsets: Floats, low: Floats, high: Floats, bore: float, head: Floats | float
) -> Lines:
    hole = _half_chord(bore / 2, offsets)
    through = hole > 0
    return Lines(
        offset=offsets,
        late=np.maximum(head - high, 0.0),
        lead=np.where(through, high - hole, high - low),
        bore=np.where(through, 2 * hole, 0.0),
        trail=np.where(through, -hole - low, 0.0),
    )


def _half_chord(radius: float, offsets: Floats) -> Floats:
    half: Floats = np.sqrt(np.maximum(radius**2 - offsets**2, 0.0))
    return half
