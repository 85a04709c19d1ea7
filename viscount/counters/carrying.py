"""Passages carried from the counting line to the beam.

A part darkens the beam when its head is there, which is when its centre is short of it by the
distance from head to centre. All of it by the one law of the fall.
"""

from collections.abc import Sequence

import numpy as np

from viscount import fall
from viscount.agreement.arrival import Arrival
from viscount.counters.beam_place import LEAST_SPEED_SHARE, BeamPlace
from viscount.outlet import Shape
from viscount.values import Direction, Passage

ACCELERATION_SHARE = 0.01
"""By how much a part's acceleration strays: drag is up to some hundredths of gravity."""
LEAST_SPEED_SIGMA, MOST_SPEED_SIGMA = 0.001, 0.05
SPEED_FACTOR = 2.0
UNKNOWN_SHARE = 0.5
"""A beam of unknown height may well be this share of the view above the line, or below it."""
HEAD_SIGMA_PX, UNKNOWN_HEAD_SIGMA_PX = 0.2, 0.5
"""A head is found in the picture to about this; a part that nobody described may have any head."""
ROUND_SHARE, UNKNOWN_ROUND_SHARE = 0.03, 0.015
"""A round part darkens a narrow ray beside its middle later, by this share of its length."""
ROUND = (Shape.WASHER, Shape.NUT, Shape.BALL)


def carried(
    passages: Sequence[Passage],
    place: BeamPlace,
    *,
    head_share: float,
    usual_px: float | None,
    interval_s: float | None,
    unit_px: float,
    view_px: float,
    shape: Shape | None,
) -> list[Arrival]:
    """Return passages as arrivals at the beam, in the same order.

    Parameters
    ----------
    head_share : see `viscount.tally.SetUp`.
    usual_px : length of one part along the fall; stands in where a passage has none.
    interval_s : from frame to frame; None where unknown.
    unit_px : px in one unit of the signature's length.
    view_px : how much of the fall is in view. Where the beam's height is unknown, passages stay
        where they are; that the way from line to beam takes slower parts longer is then for the
        clock fit to find out.
    shape : of the part; None where unknown.
    """
    spread = float(np.hypot(_head_spread(passages, head_share), _head_sigma(shape, usual_px)))
    if not place.known:
        reach = UNKNOWN_SHARE * view_px
        return [_in_place(p, reach, spread, interval_s, unit_px) for p in passages]
    return [
        _arrival(passage, place, head_share, usual_px or 0.0, spread, interval_s, unit_px)
        for passage in passages
    ]


def _arrival(
    passage: Passage,
    place: BeamPlace,
    head_share: float,
    usual_px: float,
    spread_px: float,
    interval_s: float | None,
    unit_px: float,
) -> Arrival:
    at_line = abs(passage.speed_px_s)
    speed = max(place.speed_px_s(passage), LEAST_SPEED_SHARE * at_line, 1.0)
    length = passage.length_px if passage.length_px is not None else usual_px
    acceleration = place.acceleration_px_s2
    y = (place.below_line_px or 0.0) - head_share * length
    transit_s = float(fall.time_to(at_line, acceleration, y))
    sigma_s = fall.time_sigma(
        at_line,
        acceleration,
        y,
        sigma_speed=at_line * _speed_sigma(passage, interval_s),
        sigma_y=spread_px,
        sigma_acceleration=ACCELERATION_SHARE * acceleration,
    )
    # One that goes back up was at the beam before, if the beam is below.
    sign = 1.0 if passage.direction is Direction.WITH else -1.0
    return Arrival(
        passage=passage,
        transit_ns=round(1e9 * sign * transit_s),
        sigma_ns=round(1e9 * float(sigma_s)),
        common_ns=1e9 * place.sigma_px / speed,
        speed=speed / unit_px,
    )


def _in_place(
    passage: Passage, reach_px: float, spread_px: float, interval_s: float | None, unit_px: float
) -> Arrival:
    speed = max(abs(passage.speed_px_s), 1.0)
    way_s = reach_px / speed
    sigma_s = np.hypot(way_s * _speed_sigma(passage, interval_s), spread_px / speed)
    return Arrival(
        passage=passage,
        sigma_ns=round(1e9 * float(sigma_s)),
        common_ns=1e9 * way_s,
        speed=speed / unit_px,
    )


def _speed_sigma(passage: Passage, interval_s: float | None) -> float:
    """Return the relative uncertainty of a passage's speed.

    For a line through n places with equal errors, over the time T: the speed's sigma times T is
    root 12 of the crossing's sigma times the speed (any text on regression). The known
    acceleration and its neighbours' speeds help a passage, so that it is less.
    """
    frames = passage.last_frame - passage.first_frame
    if interval_s is None or frames < 1:
        return MOST_SPEED_SIGMA
    found = SPEED_FACTOR * 1e-9 * passage.sigma_ns / (frames * interval_s)
    return float(np.clip(found, LEAST_SPEED_SIGMA, MOST_SPEED_SIGMA))


def _head_sigma(shape: Shape | None, usual_px: float | None) -> float:
    """Return how far any head may be from where its part's length puts it, in px."""
    length = usual_px or 0.0
    if shape is None:
        return float(np.hypot(UNKNOWN_HEAD_SIGMA_PX, UNKNOWN_ROUND_SHARE * length))
    return float(np.hypot(HEAD_SIGMA_PX, ROUND_SHARE * length if shape in ROUND else 0.0))


def _head_spread(passages: Sequence[Passage], head_share: float) -> float:
    """Return how far heads stray in px, by how lengths do: parts that tumble show all lengths."""
    lengths = np.array([p.length_px for p in passages if p.length_px is not None])
    if lengths.size < 3:
        return 0.0
    deviation = float(np.median(np.abs(lengths - np.median(lengths))))
    return head_share * 1.4826 * deviation
