"""How parts leave the lip, and what the fall makes of their spacing.

A column of touching parts slides out as one: with the pitch p and the acceleration a, part n
leaves at t = sqrt(2 n p / a), with the speed sqrt(2 a n p). From there each part falls on its
own. The fall turns interval into spacing; it never makes the interval longer.

Spacing is the mean speed of the two parts times the interval, the gap what the length leaves of
it. With that mean the sums close: below a column, with g the acceleration of the fall, spacing
is ``p a / g + v interval(lip) (1 - a / g)``, which is p at the lip, and everywhere if a = g.
"""

import math
from dataclasses import dataclass

from viscount import fall


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two parts that follow each other: when the second leaves after the first, and how fast.

    `label` says which two they are, counted from 1.
    """

    label: str
    interval_s: float
    first_mm_s: float
    second_mm_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Magazine:
    """A column of `count` parts at this pitch, which slides with a constant acceleration."""

    count: int
    pitch_mm: float
    acceleration_mm_s2: float

    @property
    def empty_s(self) -> float:
        """When the last part has left."""
        return math.sqrt(2 * self.count * self.pitch_mm / self.acceleration_mm_s2)

    def pairs(self) -> list[Pair]:
        """Return the first two parts, two in the middle, and the last two."""
        firsts = dict.fromkeys((1, max(self.count // 2, 1), max(self.count - 1, 1)))
        return [self._pair(n) for n in firsts if n < self.count]

    def _pair(self, n: int) -> Pair:
        slide = 2 * self.pitch_mm / self.acceleration_mm_s2
        speed = 2 * self.pitch_mm * self.acceleration_mm_s2
        return Pair(
            label=f"{n}, {n + 1}",
            interval_s=math.sqrt(slide) * (math.sqrt(n + 1) - math.sqrt(n)),
            first_mm_s=math.sqrt(speed * n),
            second_mm_s=math.sqrt(speed * (n + 1)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady:
    """One part every `interval_s`, each with the same speed at the lip."""

    interval_s: float
    lip_mm_s: float

    def pairs(self) -> list[Pair]:
        """Return any two neighbours."""
        speed = self.lip_mm_s
        return [
            Pair(label="any two", interval_s=self.interval_s, first_mm_s=speed, second_mm_s=speed)
        ]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightRow:
    """Two parts at one height; lengths along the fall.

    Attributes
    ----------
    place : "lip", "line", "beam" or "blade". below_lip_mm : where that is.
    speed_mm_s : the mean of the two parts', there.
    interval_s, spacing_mm : from centre to centre. gap_s, gap_mm : from tail to head; negative
        where more parts are asked for than have room. gap_s is None where they are at rest.
    """

    pair: str
    place: str
    below_lip_mm: float
    speed_mm_s: float
    interval_s: float
    spacing_mm: float
    gap_s: float | None
    gap_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """The fall below the lip; `acceleration_mm_s2` is gravity's, a chute's, or 0 on a belt."""

    acceleration_mm_s2: float = fall.STANDARD_GRAVITY_MM_S2

    def time_s(self, lip_mm_s: float, below_lip_mm: float) -> float:
        """Return the time from the lip to a place below it."""
        return float(fall.time_to(lip_mm_s, self.acceleration_mm_s2, below_lip_mm))

    def speed_mm_s(self, lip_mm_s: float, below_lip_mm: float) -> float:
        """Return the speed at a place below the lip."""
        return float(fall.speed_at(lip_mm_s, self.acceleration_mm_s2, below_lip_mm))

    def row(self, pair: Pair, place: str, below_lip_mm: float, length_mm: float) -> HeightRow:
        """Return what two parts come to at one height."""
        first = self.time_s(pair.first_mm_s, below_lip_mm)
        second = pair.interval_s + self.time_s(pair.second_mm_s, below_lip_mm)
        speeds = (pair.first_mm_s, pair.second_mm_s)
        speed = sum(self.speed_mm_s(at_lip, below_lip_mm) for at_lip in speeds) / 2
        interval = second - first
        return HeightRow(
            pair=pair.label,
            place=place,
            below_lip_mm=below_lip_mm,
            speed_mm_s=speed,
            interval_s=interval,
            spacing_mm=speed * interval,
            gap_s=interval - length_mm / speed if speed else None,
            gap_mm=speed * interval - length_mm,
        )

    def gap_ceiling_s(self, magazine: Magazine, pair: Pair, length_mm: float) -> float:
        """Return what no gap gets beyond, however low: interval at the lip times (1 - a / g).

        With g the acceleration below the lip and a that of the column: what the gap tends to as
        the speed outgrows the one at the lip. Parts that stand apart in the column can have a
        greater one at the lip; then it is that, interval at the lip times (1 - length / pitch).
        """
        shares = [length_mm / magazine.pitch_mm]
        if self.acceleration_mm_s2:
            shares.append(magazine.acceleration_mm_s2 / self.acceleration_mm_s2)
        return pair.interval_s * max(1.0 - min(shares), 0.0)
