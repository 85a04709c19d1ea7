"""Can the gate shut between two parts?

Times count from the moment at which part N's head is at the beam; `viscount.window` has the law.
"""

from dataclasses import dataclass

from viscount import fall
from viscount.window import least_interval_s, window


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """Reach and shut of a gate, each the least and the greatest that were measured, in s."""

    reach_s: tuple[float, float]
    shut_s: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """The window of one cut; times in s after N's head is at the beam.

    Attributes
    ----------
    clear_s : N's tail clears the blade. arrive_s : the head of N + 1 arrives there.
    earliest_s, latest_s : between these the command must come; None where no gate is given.
    least_interval_s : the least interval at the beam that this gate can promise to cut.
    """

    pair: str
    clear_s: float
    arrive_s: float
    earliest_s: float | None
    latest_s: float | None
    least_interval_s: float | None

    @property
    def gap_s(self) -> float:
        """The clear time at the blade, which the stroke from reach to shut must fit into."""
        return self.arrive_s - self.clear_s

    @property
    def fits(self) -> bool | None:
        """Whether there is a time for the command at all; None where no gate is given."""
        if self.earliest_s is None or self.latest_s is None:
            return None
        return self.earliest_s <= self.latest_s


def cut(
    *,
    pair: str,
    interval_s: float,
    first_mm_s: float,
    second_mm_s: float,
    beam_to_blade_mm: float,
    length_mm: float,
    acceleration_mm_s2: float,
    gate: Gate | None = None,
) -> Cut:
    """Return the window of the cut between two parts.

    Parameters
    ----------
    interval_s : between their heads at the beam.
    first_mm_s, second_mm_s : the speed of each when its head is there.
    beam_to_blade_mm : along the fall, more than 0.
    """
    clear_mm = beam_to_blade_mm + length_mm
    clear = float(fall.time_to(first_mm_s, acceleration_mm_s2, clear_mm))
    fallen = float(fall.time_to(second_mm_s, acceleration_mm_s2, beam_to_blade_mm))
    arrive = interval_s + fallen
    earliest = latest = least = None
    if gate is not None:
        found = window(
            clear_s=clear,
            arrive_s=arrive,
            least_reach_s=gate.reach_s[0],
            greatest_shut_s=gate.shut_s[1],
        )
        earliest, latest = found.earliest_s, found.latest_s
        least = least_interval_s(earliest, greatest_shut_s=gate.shut_s[1], fallen_s=fallen)
    return Cut(
        pair=pair,
        clear_s=clear,
        arrive_s=arrive,
        earliest_s=earliest,
        latest_s=latest,
        least_interval_s=least,
    )
