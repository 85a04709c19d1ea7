"""What is known of how fast parts move: speed at the line along the pour, and acceleration."""

from dataclasses import dataclass
from statistics import median

import numpy as np
from numpy.typing import NDArray

from viscount import fall
from viscount.motion.once import Once
from viscount.motion.single import Single

Floats = NDArray[np.float64]

TIGHT_PX = 1.0
"""What keeps within this of its path is no region that falls to pieces and grows together."""
ROUNDS = 2
"""After the first so many more find when a part will be at the line. Each leaves about a third of
the error, for the first parts of a column too, soon after which others are much faster."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionPrior:
    """What the outlet file says of the motion, in px and s; None where it says nothing.

    `speed_px_s` is the speed at the counting line, `speed_tolerance` its relative half-width.
    """

    acceleration_px_s2: float | None = None
    sure: bool = True
    """Whether that acceleration can be relied upon; else the clip may teach another."""
    speed_px_s: float | None = None
    speed_tolerance: float = 0.1
    least_speed_px_s: float | None = None
    """What has fallen from the lip cannot be slower at the line, were it let go at rest."""
    part_length_px: float | None = None
    """Length of a part along the fall."""
    part_area_px: float | None = None
    """The most that a part can show of itself."""
    exposure_s: float = 0.0
    """For which each line is exposed, where known: parts are longer by what they move."""
    falling: bool = False
    """The kind of motion is stated to be a fall, whatever its acceleration in px."""
    line_time_along_s: float = 0.0
    """From one exposed line to the next along the fall; negative where read against it."""
    single: Single | None = None
    """How one part looks, as taught."""
    longest_px: float | None = None
    """The most that a part of the stated sizes measures in any direction."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SpeedModel:
    """Speed at the line as a slow function of the time at which a part is there.

    Attributes
    ----------
    t_s, speed : (k,) knots; in between it is linear, beyond it is constant.
    spread : relative standard deviation of single parts about it.
    acceleration : px/s².
    sigma_acceleration : px/s², how far a part's acceleration may stray from it.
    learned : whether it rests on the clip itself.
    stated : whether it rests on a speed that the outlet file states.
    """

    t_s: Floats
    speed: Floats
    spread: float
    acceleration: float
    sigma_acceleration: float
    interval_s: float = 0.0
    """From frame to frame; 0 where unknown."""
    learned: bool = True
    stated: bool = False
    sigma_shape_px: float = 0.0
    """Scatter of a part's centre about its path, beyond the detector's own sigma; 0 where nothing
    is known of it."""
    sigma_side_px: float = 0.0
    """The same across the fall, as far as it is known."""
    sigma_shake_px: float = 0.0
    """By how much whole pictures were displaced along the fall before they were steadied: the
    parts of one time share what that left in their paths."""
    ahead_px: float = 0.0
    """Usual distance from a part's centre to its downstream end; 0 where none was seen whole."""
    behind_px: float = 0.0
    """Usual distance from a part's centre to its upstream end."""
    sigma_end_px: float = 0.0
    """Spread of those two: parts tumble, and come either way round."""
    breadth_px: float = 0.0
    """Usual extent of a part across the fall; 0 where none was seen whole."""
    area_px: float = 0.0
    """Area such that half of all foreground lies in larger regions; 0 where unknown."""

    @Once
    def usual_speed(self) -> float:
        """Median speed at the line, px/s."""
        # Of so few ten times as fast as numpy's: a live run asks this of each new model.
        return float(median(self.speed.tolist()))

    @property
    def tight(self) -> bool:
        """Whether parts are known to keep to their paths: what is seen of one is all that it shows
        of itself, and what is small is dust."""
        return self.learned and 0.0 < self.sigma_shape_px < TIGHT_PX

    @property
    def longest_px(self) -> float:
        """The longer of the usual extents along and across the fall, px."""
        return max(self.ahead_px + self.behind_px, self.breadth_px)

    def at(self, t_s: Floats | float) -> Floats:
        """Return the speed at the line at `t_s`."""
        return np.asarray(np.interp(t_s, self.t_s, self.speed))

    def line_speed(self, t_s: Floats, y: Floats) -> Floats:
        """Return the speed at the line of a part seen at `y` at `t_s`.

        That of the moment at which it is at the line, sooner or later than `t_s`.
        """
        speed = self._at_line(self.at(t_s), t_s, y)
        if self.speed.size == 1 or not self.learned:
            return speed  # a guess is no surer for being asked more often
        for _ in range(ROUNDS):
            # Half way: where speeds grow fast the full step would go too far each time.
            speed = 0.5 * (speed + self._at_line(speed, t_s, y))
        return speed

    def _at_line(self, speed: Floats, t_s: Floats, y: Floats) -> Floats:
        """Return the speed at the line of the moment at which a part of about that one is there."""
        took_s = fall.time_to(np.maximum(speed, 1e-9), self.acceleration, y)
        return self.at(t_s - took_s)

    def speed_at(self, t_s: Floats, y: Floats) -> Floats:
        """Return the speed at `y` of a part seen there at `t_s`."""
        return fall.speed_at(self.line_speed(t_s, y), self.acceleration, y)

    def speeds_at(self, t_s: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return that speed and its standard deviation; ``dv/du = u/v``."""
        u = self.line_speed(t_s, y)
        v = fall.speed_at(u, self.acceleration, y)
        return v, self.spread * u * np.minimum(u / np.maximum(v, 1e-9), 2.0)

    def speed_and_sigma_at(self, t_s: float, y: float) -> tuple[float, float]:
        """Return the same of a single part."""
        speed, sigma = self.speeds_at(np.array([t_s]), np.array([y]))
        return float(speed[0]), float(sigma[0])
