"""The law of the light barrier: when a falling part switches it.

Derivation, for a beam of width w along the fall, evenly lit, that switches when it has lost the
fraction theta of its light. A part of length L covers part of the beam while its head is between
0 and L + w into it. The length that it covers there rises evenly from nothing to min(L, w), stays,
and falls evenly again. It is more than theta w from theta w behind the entry until theta w before
the exit, that is over L + w - 2 theta w = L + w (1 - 2 theta), provided that min(L, w) exceeds
theta w at all: a part with L / w < theta gives no pulse.

Between two parts that are at least as long as the beam is wide, c apart, the least that is covered
is w - c; the beam clears only where that is below theta w, so that c >= (1 - theta) w. It is then
clear over c - w (1 - 2 theta). A sensor reports dark `operate_s` late and light `release_s` late,
and neither if it is over by then.

Lengths in mm or px alike, speeds to match; times in s.
"""

import math
from dataclasses import dataclass

from viscount.errors import UsageError


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamLaw:
    """One light barrier.

    Attributes
    ----------
    width : of the beam along the fall, 0 for a thin one.
    threshold : the fraction of its light at whose loss it switches, 0 to 1 without the ends.
    operate_s, release_s : how late its sensor reports dark, and light.
    """

    width: float = 0.0
    threshold: float = 0.5
    operate_s: float = 0.0
    release_s: float = 0.0

    def __post_init__(self) -> None:
        if not 0.0 < self.threshold < 1.0:
            raise UsageError(
                f"a beam that switches at {self.threshold:g} of its light",
                allowed="more than 0 and less than 1",
            )
        for name in ("width", "operate_s", "release_s"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0.0):
                raise UsageError(f"a beam whose {name} is {value:g}", allowed="0 or more")

    @property
    def longer(self) -> float:
        """By how much a dark stretch is longer than its part: w (1 - 2 theta)."""
        return self.width * (1.0 - 2.0 * self.threshold)

    def dark(self, length: float) -> float:
        """Return how far a part moves while the beam is dark; 0 where it stays light."""
        seen = length > 0.0 and length >= self.threshold * self.width
        return max(length + self.longer, 0.0) if seen else 0.0

    def light(self, clear: float) -> float:
        """Return how far parts move while the beam is light between two; 0 where it stays dark.

        `clear` is the distance from tail to head, or the bore of a part.
        """
        apart = clear > 0.0 and clear >= (1.0 - self.threshold) * self.width
        return max(clear - self.longer, 0.0) if apart else 0.0

    def pulse_s(self, length: float, speed: float) -> float:
        """Return how long the pulse of a part is reported to last; 0 where there is none."""
        dark_s = self.dark(length) / speed
        reported = dark_s > 0.0 and dark_s >= self.operate_s
        return max(dark_s + self.release_s - self.operate_s, 0.0) if reported else 0.0

    def clear_s(self, clear: float, speed: float) -> float:
        """Return how long the beam is reported light between two parts; 0 where they are one."""
        light_s = self.light(clear) / speed
        reported = light_s > 0.0 and light_s >= self.release_s
        return max(light_s + self.operate_s - self.release_s, 0.0) if reported else 0.0

    def length(self, pulse_s: float, speed: float) -> float:
        """Return the length of the part that gives a pulse of `pulse_s`."""
        return (pulse_s - self.release_s + self.operate_s) * speed - self.longer

    def least_clear(self, speed: float) -> float:
        """Return the least distance from tail to head at which two parts are two pulses."""
        by_light = (1.0 - self.threshold) * self.width
        return max(by_light, self.release_s * speed + self.longer)
