"""A track: the blobs of one part, and the estimate of where it goes next.

The estimate is a Kalman filter along the fall (place and speed, the acceleration known) and
one across it (place and drift), both in closed form. Kalman (1960); the process noise is the
discrete white-noise acceleration model (Bar-Shalom, Li, Kirubarajan 2001, section 6.3).
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from viscount.motion.sight import Sight
from viscount.motion.traits import Traits

Floats = NDArray[np.float64]

STILL_PX = 1.5
"""Two sightings no further apart than this are at one place."""

GOES_ON = 0.3
"""What has stopped may go on, or back, at about this share of the speed it had."""


@dataclass(slots=True)
class Axis:
    """Place and speed along one axis, with their covariance. Times in s, lengths in px."""

    place: float
    speed: float
    var_place: float
    cov: float
    var_speed: float
    acceleration: float
    var_acceleration: float

    def advance(self, dt: float) -> None:
        """Move the estimate on by `dt`."""
        noise = self.var_acceleration * dt * dt
        self.place += (self.speed + 0.5 * self.acceleration * dt) * dt
        self.speed += self.acceleration * dt
        self.var_place += (2 * self.cov + self.var_speed * dt) * dt + 0.25 * noise * dt * dt
        self.cov += self.var_speed * dt + 0.5 * noise * dt
        self.var_speed += noise

    def correct(self, place: float, var: float) -> None:
        """Take in a measured place."""
        gain = 1.0 / (self.var_place + var)
        k_place, k_speed = self.var_place * gain, self.cov * gain
        error = place - self.place
        self.place += k_place * error
        self.speed += k_speed * error
        self.var_speed -= k_speed * self.cov
        self.cov *= 1.0 - k_place
        self.var_place *= 1.0 - k_place


def _at_rest(place: float, var_place: float, sigma_speed: float, sigma_acceleration: float) -> Axis:
    return Axis(
        place=place,
        speed=0.0,
        var_place=var_place,
        cov=0.0,
        var_speed=sigma_speed**2,
        acceleration=0.0,
        var_acceleration=sigma_acceleration**2,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Met:
    """A region that a part may have come to lie in: its number in the frame and its ends, px, and
    how many times it was seen like that."""

    blob: int
    tail: float
    head: float
    low: float
    high: float
    times: int


@dataclass(slots=True)
class Track:
    """The sightings of one part so far. Grows while the part is followed."""

    along: Axis
    across: Axis
    t_s: float
    sights: list[Sight] = field(default_factory=list)
    born: str = ""
    """Where it was first seen: "entry", "first frame", "side", "beside" or "midway"."""
    born_after_s: float = -np.inf
    """Time of the last frame in which it could have been seen and was not."""
    ended: str = ""
    """How it ended: "exit", "side", "last frame", "hidden", "rest" or "midway"."""
    missed: int = 0
    covered: int = 0
    length: float = 0.0
    """Extent along the fall as last seen whole and alone, else the longest seen."""
    behind: float = 0.0
    """Distance from the centre to the upstream end, likewise."""
    area: float = 1.0
    """Area as last seen whole and alone, else the largest seen."""
    full: float = 0.0
    """Largest area seen whole and alone."""
    stayed: bool = False
    """Whether the last frame showed it where the one before did: it may have stopped there, or the
    picture is torn."""
    met: Met | None = None
    """Where it may have come to lie, once it is lost."""
    halted_s: float | None = None
    """When it was first seen to have stopped on its way."""
    _traits: Traits | None = None

    def take(self, sight: Sight, var_x: float) -> None:
        """Add a sighting and bring the estimate up to it."""
        dt = sight.t_s - self.t_s
        self.along.advance(dt)
        self.across.advance(dt)
        self.along.correct(sight.y, sight.var_y)
        self.across.correct(sight.x, var_x)
        self.t_s = sight.t_s
        self.show(sight)
        self.missed = self.covered = 0
        self.stayed = False

    def halt(self, sight: Sight, acceleration: float) -> None:
        """Add a sighting that shows the part stopped; it may stay, or go on as it likes."""
        had = self.along.speed
        self.along = _at_rest(sight.y, sight.var_y, GOES_ON * had, acceleration)
        self.across = _at_rest(sight.x, sight.var_x, GOES_ON * had, acceleration)
        self.t_s = sight.t_s
        self.halted_s = sight.t_s if self.halted_s is None else self.halted_s
        self.show(sight)
        self.missed = self.covered = 0
        self.stayed = False

    def stay(self) -> None:
        """Take note that it seems to be where it was; another frame must bear that out."""
        self.missed += 1
        self.stayed = True

    def show(self, sight: Sight) -> None:
        """Add a sighting without touching the estimate."""
        self.sights.append(sight)
        if sight.whole and sight.alone:
            self.length, self.area, self.behind = sight.length, sight.area, sight.behind
            self.full = max(self.full, sight.area)
        elif not any(seen.whole and seen.alone for seen in self.sights):
            self.length = max(self.length, sight.length)
            self.behind = max(self.behind, sight.behind)
            self.area = max(self.area, sight.area)

    @property
    def when(self) -> float:
        """About when it is at the line, in s, for ordering."""
        return self.t_s - self.along.place / max(self.along.speed, 1e-6)

    @property
    def traits(self) -> Traits:
        """What the sightings so far say of the part."""
        known = self._traits
        if known is None or known.of is not self.sights or known.number > len(self.sights):
            known = self._traits = Traits(self.sights)
        elif known.number < len(self.sights):
            known = self._traits = Traits(self.sights, known)
        return known

    @property
    def rests(self) -> bool:
        """Whether it was last seen where it had been seen before."""
        if len(self.sights) < 2:
            return False
        before, last = self.sights[-2:]
        return max(abs(last.y - before.y), abs(last.x - before.x)) <= STILL_PX

    @property
    def whole(self) -> list[Sight]:
        """The sightings that show the part whole and alone."""
        return self.traits.whole
