"""Tracks of parts that fall evenly, made by hand."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from viscount.motion.sight import Sight
from viscount.motion.speed import SpeedModel
from viscount.motion.track import Axis, Track

AXIS = Axis(
    place=0.0,
    speed=3000.0,
    var_place=1.0,
    cov=0.0,
    var_speed=1.0,
    acceleration=0.0,
    var_acceleration=0.0,
)


def model(speed: float = 3000.0, acceleration: float = 0.0) -> SpeedModel:
    return SpeedModel(
        t_s=np.array([0.0]),
        speed=np.array([speed]),
        spread=0.01,
        acceleration=acceleration,
        sigma_acceleration=0.0,
        interval_s=1 / 120,
    )


def track(
    length: float | Sequence[float],
    area: float,
    *,
    at_s: float = 0.0,
    gyration: float = 20.0,
    sights: int = 6,
    step: float = 25.0,
) -> Track:
    """A part seen whole in each of several frames; its length in each, or the same in all."""
    lengths = [float(length)] * sights if isinstance(length, float | int) else list(length)
    seen = [
        Sight(
            frame=k,
            blob=0,
            t_s=at_s + k / 120,
            y=(k - len(lengths) / 2) * step,
            x=50.0,
            var_y=0.01,
            var_x=0.01,
            length=own,
            behind=own / 2,
            area=area,
            whole=True,
            alone=True,
            var_along=0.8 * gyration**2,
            var_across=0.2 * gyration**2,
        )
        for k, own in enumerate(lengths)
    ]
    return Track(along=AXIS, across=AXIS, t_s=at_s, sights=seen, length=lengths[-1], area=area)


def passing(area: float) -> Track:
    """A part of 64 px that comes in, is seen eight times and leaves."""
    one = track(64.0, area, sights=8)
    one.along = replace(one.along, speed=3000.0)
    one.born, one.ended = "entry", "exit"
    return one
