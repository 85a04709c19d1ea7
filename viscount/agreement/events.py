"""Passages and pulses on one time axis, ready to be explained by one another."""

from dataclasses import dataclass

from viscount.agreement.arrival import Arrival
from viscount.agreement.error_rates import ErrorRates
from viscount.agreement.outline import Outline
from viscount.values import Direction, Passage, Pulse

REACH_SIGMA = 10.0
LEAST_REACH_US, MOST_REACH_US = 300.0, 5_000.0
LONG_BLOB = 1.35
"""A passage this much longer than usual may well be two parts."""
LONG_BLOB_FACTOR = 50.0
LEAST_CLUMP = 0.01
"""Less likely clumps are no reason to look for an earlier pulse."""


@dataclass(frozen=True, slots=True, eq=False)
class Due:
    """An arrival on the common axis.

    Attributes
    ----------
    at_us, sigma_us : when the head should darken the beam.
    parts : chance of each number of parts, by the camera alone.
    watched : chance that the beam was watching then.
    own : what one part of it does to the beam.
    early_us : by how much its pulse may start earlier, if it is a clump: the head of that comes
        before the centre that the camera timed.
    """

    arrival: Arrival
    at_us: float
    sigma_us: float
    parts: tuple[tuple[int, float], ...]
    watched: float
    own: Outline
    early_us: float = 0.0

    @property
    def reach_us(self) -> float:
        """How far off a pulse may be and still be its own."""
        return min(max(REACH_SIGMA * self.sigma_us, LEAST_REACH_US), MOST_REACH_US)

    @property
    def latest_us(self) -> float:
        """Its first pulse does not begin after this."""
        return self.at_us + self.own.latest_us + self.reach_us

    @property
    def low_us(self) -> float:
        """Nothing before this has to do with it."""
        return self.at_us - self.reach_us - self.early_us

    @property
    def high_us(self) -> float:
        """Nothing after this has to do with it."""
        return self.at_us + self.own.span_us + self.reach_us

    @property
    def sign(self) -> int:
        """+1 with the fall, -1 back up."""
        return 1 if self.arrival.passage.direction is Direction.WITH else -1


@dataclass(frozen=True, slots=True, eq=False)
class Dark:
    """A pulse on the common axis.

    Attributes
    ----------
    start_us, end_us : of the dark.
    seen : chance that the camera would have seen its part.
    own : what one part does to the beam around then.
    """

    pulse: Pulse
    start_us: float
    end_us: float
    seen: float
    own: Outline

    @property
    def loose(self) -> bool:
        """Whether its length and number are not to be trusted."""
        return self.pulse.cut or self.pulse.lost_edges > 0

    @property
    def low_us(self) -> float:
        """Nothing before this has to do with it."""
        usual = self.own.usual_us or MOST_REACH_US
        return self.start_us - (usual if self.loose else 0.0)

    @property
    def high_us(self) -> float:
        """Nothing after this has to do with it."""
        usual = self.own.usual_us or MOST_REACH_US
        return self.end_us + (self.own.span_us if self.own.several else 0.5 * usual)


def early_us(parts: tuple[tuple[int, float], ...], own: Outline) -> float:
    """Return by how much the pulse of a passage may start early; see `Due`."""
    most = max(n for n, chance in parts if n < 2 or chance > LEAST_CLUMP)
    return 0.5 * (own.usual_us or MOST_REACH_US) * max(most - 1, 0)


def part_chances(
    passage: Passage, rates: ErrorRates, usual_px: float | None
) -> tuple[tuple[int, float], ...]:
    """Return the chance of each number of parts, by the camera alone.

    The doubt is shared alike by one part more and one less; what the camera may get wrong
    without knowing comes on top. A blob much longer than usual is likelier to be two.
    """
    parts, doubt = passage.parts, passage.doubt
    if parts == 0:
        return (0, 1.0 - doubt), (1, doubt)
    length = passage.length_px
    long = usual_px is not None and length is not None and length > LONG_BLOB * usual_px * parts
    more = rates.camera_merged * (LONG_BLOB_FACTOR if long else 1.0)
    weights = (0.5 * doubt + rates.camera_false, 1.0 - doubt, 0.5 * doubt + more)
    total = sum(weights)
    return tuple((parts - 1 + k, weight / total) for k, weight in enumerate(weights))
