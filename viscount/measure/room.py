"""How often a part is seen whole, and whether the line leaves room for it on both sides."""

from dataclasses import dataclass

from viscount import fall

WHOLE_SIGHTINGS, WITH_SPEED = 3.0, 2.0
"""Whole sightings that a part needs; fewer will do where its speed is known beforehand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What the view leaves a part of usual speed and length.

    Attributes
    ----------
    whole_sightings : frames in which it is whole in view, on average.
    before_px, after_px : way that its centre goes, whole in view, above and below the line.
    step_px : way from frame to frame at the line.
    """

    whole_sightings: float
    before_px: float
    after_px: float
    step_px: float


def room(
    *,
    top_px: float,
    bottom_px: float,
    length_px: float,
    speed_px_s: float,
    acceleration_px_s2: float,
    interval_s: float,
) -> Room:
    """Return the room of a part.

    Parameters
    ----------
    top_px, bottom_px : borders of the view along the fall from the line, downstream positive.
    length_px : of a part along the fall.
    speed_px_s, acceleration_px_s2 : at the line.
    interval_s : from frame to frame.
    """
    first, last = top_px + length_px / 2, bottom_px - length_px / 2
    whole_s = 0.0
    if last > first:
        begun = float(fall.time_to(speed_px_s, acceleration_px_s2, first))
        whole_s = float(fall.time_to(speed_px_s, acceleration_px_s2, last)) - begun
    return Room(
        whole_sightings=whole_s / interval_s,
        before_px=-first,
        after_px=last,
        step_px=speed_px_s * interval_s,
    )
