"""A passage carried from the counting line to the beam."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.values import Passage

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A passage, and when its part should darken the beam.

    A passage is the moment at which the camera sees the part's centre cross the line; a pulse
    starts when its head reaches the beam. The way between, half the part's length included, is
    for the caller to give. What is alike for all parts and was not given (the half length, the
    delay of the sensor) cannot be told from the offset of the clocks: the fit takes it up, and
    its offset is then that of arrivals.

    Attributes
    ----------
    passage : as the camera gave it.
    transit_ns : from the line to the beam, negative where the beam is above the line; 0 where
        the beam's height is unknown.
    sigma_ns : standard uncertainty of the transit from part to part, >= 0.
    common_ns : by how much the transit grows if the beam is lower by one standard uncertainty
        of its height: that uncertainty over the speed at the beam. It is the same error of
        height for all parts; the fit learns it where speeds differ enough, and else carries it
        into the uncertainty of the offset.
    speed : at the beam, in the signature's unit of length per second; None where unknown.
    """

    passage: Passage
    transit_ns: int = 0
    sigma_ns: int = 0
    common_ns: float = 0.0
    speed: float | None = None

    @property
    def due_ns(self) -> int:
        """When the head should reach the beam, on the capture clock."""
        return self.passage.t_ns + self.transit_ns


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Arrivals:
    """Arrivals as arrays of (n,), in order of time.

    `due_s` counts from `origin_ns` on the capture clock; `sigma_us` has the passage's and the
    transit's own uncertainty in it; `speed` is NaN where it is unknown.
    """

    origin_ns: int
    due_s: Floats
    sigma_us: Floats
    common_us: Floats
    speed: Floats


def in_arrays(arrivals: Sequence[Arrival], origin_ns: int) -> Arrivals:
    """Return arrivals as arrays, put in order of time."""
    due = np.array([a.due_ns - origin_ns for a in arrivals], dtype=np.int64)
    order = np.argsort(due, kind="stable")
    own = np.array([a.passage.sigma_ns for a in arrivals], dtype=np.float64)
    way = np.array([a.sigma_ns for a in arrivals], dtype=np.float64)
    common = np.array([a.common_ns for a in arrivals], dtype=np.float64)
    speed = np.array([np.nan if a.speed is None else a.speed for a in arrivals], dtype=np.float64)
    return Arrivals(
        origin_ns=origin_ns,
        due_s=1e-9 * due[order].astype(np.float64),
        sigma_us=np.maximum(1e-3 * np.hypot(own, way)[order], 1.0),
        common_us=1e-3 * common[order],
        speed=speed[order],
    )
