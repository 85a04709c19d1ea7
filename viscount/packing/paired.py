"""How both counters of one pour go together, pulse by pulse: totals alone would not tell."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from typing import Any, Protocol, Self

from viscount.values import Passage, Pulse


@dataclass(frozen=True, slots=True, kw_only=True)
class Paired:
    """Passages and pulses of one pour, brought together.

    Attributes
    ----------
    agreed : parts with one passage and one pulse.
    merged_pulses : pulses that stand for several parts. split_pulses : parts with several pulses.
    camera_only : parts that gave no pulse. beam_only : parts that gave no passage.
    ambiguous : pairings that could be one way or the other.
    doubts : what is against the pairing as a whole, in words.
    """

    agreed: int = 0
    merged_pulses: int = 0
    split_pulses: int = 0
    camera_only: int = 0
    beam_only: int = 0
    ambiguous: int = 0
    doubts: tuple[str, ...] = ()

    @property
    def reasons(self) -> tuple[str, ...]:
        """What keeps a bag from being good, in words; nothing where each part has one of both."""
        told = [
            _counted(self.merged_pulses, "merged pulse", "merged pulses", "of several parts"),
            _counted(self.split_pulses, "part", "parts", "that made several pulses"),
            _counted(self.camera_only, "part", "parts", "that the camera saw and the beam missed"),
            _counted(self.beam_only, "part", "parts", "that the beam saw and the camera missed"),
            _counted(self.ambiguous, "pairing", "pairings", "that could be otherwise"),
        ]
        return (*(text for text in told if text), *self.doubts)

    def as_dict(self) -> dict[str, int]:
        """Return the numbers, as a journal's line has them."""
        return {name: number for name, number in asdict(self).items() if name != "doubts"}

    @classmethod
    def of(cls, told: Mapping[str, Any]) -> Self:
        """Return the numbers of a journal's line.

        Raises
        ------
        KeyError, TypeError : it holds no such numbers.
        """
        names = [one.name for one in fields(cls) if one.name != "doubts"]
        for name in names:
            if type(told[name]) is not int:
                raise TypeError(f"{told[name]!r} is no whole number")
        return cls(**{name: told[name] for name in names})


@dataclass(frozen=True, slots=True, kw_only=True)
class PourSeen:
    """What both counters saw of one pour.

    Attributes
    ----------
    passages : final, on the capture clock.
    pulses : spikes left out, on the board's clock.
    heard_ns : the host's clock minus the board's as the first edge came, late as that may have
        been: tells pours of one run of the board from those of another, and wraps of its clock.
    """

    passages: Sequence[Passage]
    pulses: Sequence[Pulse]
    heard_ns: int = 0


class Pairs(Protocol):
    """Pairs pour by pour; good pours behind it make it surer."""

    def of(self, poured: PourSeen) -> Paired:
        """Return how the counters of a pour go together."""
        ...

    def keep(self) -> None:
        """Go by the last pour from now on: it was good."""
        ...

    def forget(self) -> None:
        """Go by nothing from before: the clocks may stand otherwise."""
        ...


def _counted(number: int, one: str, several: str, what: str) -> str:
    return "" if not number else f"{number} {one if number == 1 else several} {what}"
