"""How fast parts are at the beam: by the camera where it saw them, else as stated."""

from collections.abc import Mapping, Sequence

import numpy as np

from viscount import fall
from viscount.agreement.arrival import Arrival
from viscount.counters.beam_place import BeamPlace
from viscount.outlet import MotionKind, Outlet
from viscount.values import Pulse


def stated_speed_px_s(outlet: Outlet, place: BeamPlace) -> float | None:
    """Return the speed at the beam in px/s by the outlet file alone; None where it says too little.

    From the speed at the lip and the way from there (`viscount.fall`); on a belt, the belt's.
    """
    motion, view, beam, scale = outlet.motion, outlet.view, outlet.beam, place.scale_px_per_mm
    if motion.speed_mm_s is None or scale is None:
        return None
    at_lip = motion.speed_mm_s * scale
    if motion.kind is MotionKind.BELT:
        return at_lip or None
    acceleration = motion.acceleration_mm_s2
    if acceleration is None and motion.kind is MotionKind.FREE_FALL:
        acceleration = fall.STANDARD_GRAVITY_MM_S2
    if acceleration is None or beam is None:
        return None
    if beam.below_lip_mm is not None:
        below = beam.below_lip_mm * scale
    elif beam.at_px is not None and view.lip_px is not None:
        below = outlet.falls.sign * (beam.at_px - view.lip_px)
    else:
        return None
    return float(fall.speed_at(at_lip, acceleration * scale, below)) or None


def speeds_at_pulses(
    pulses: Sequence[Pulse],
    arrivals: Sequence[Arrival],
    captured_ns: Mapping[int, int],
    otherwise: float | None,
) -> list[float] | None:
    """Return the speed at each pulse: that of the nearest arrival, in the arrivals' unit.

    Of a pulse that no clock places the usual arrival's, or `otherwise`, where there is none.
    """
    known = [a for a in arrivals if a.speed is not None]
    if not known:
        return None if otherwise is None else [otherwise] * len(pulses)
    due = np.array([a.due_ns for a in known], dtype=np.int64)
    order = np.argsort(due, kind="stable")
    due, speed = due[order], np.array([known[k].speed for k in order], dtype=np.float64)
    usual = float(np.median(speed))
    middles = (due[1:] + due[:-1]) / 2
    return [
        float(speed[np.searchsorted(middles, captured_ns[p.id])]) if p.id in captured_ns else usual
        for p in pulses
    ]
