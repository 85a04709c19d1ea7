"""One part as one frame shows it."""

from dataclasses import dataclass


@dataclass(slots=True)
class Sight:
    """One sighting of a part: frame, place of the blob in it, time, place along and across, and
    how far to trust that.

    Nobody changes one; it is not frozen because that takes ten times as long to make, for each
    part in each frame.
    """

    frame: int
    blob: int
    t_s: float
    y: float
    x: float
    var_y: float
    var_x: float
    length: float
    behind: float
    area: float
    whole: bool
    alone: bool
    """No other part is thought to be in the same blob."""
    aside: bool = False
    """The blob sticks out of the view sideways."""
    var_along: float = 0.0
    """Second central moment of the blob along the fall, px²."""
    var_across: float = 0.0
    """The same across the fall."""
    waist: float = float("nan")
    """See `viscount.values.Blob`; NaN where nobody looked."""
    bores: float = float("nan")
    """The same."""
