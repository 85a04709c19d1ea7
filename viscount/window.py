"""When the command to shut must come: the one copy of that law.

The blade may enter the stream once the tail of part N has cleared it, and must have closed the
stream before the head of N + 1 arrives. With *reach* the time from the command until the blade
first enters the stream, and *shut* that until the stream is closed and any rebound is over:

    command + least reach >= clear,   command + greatest shut <= arrive.

The stroke, greatest shut less least reach, eats the gap even where it never varies. All times in
s, counted from any one moment.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Between these the command must come; empty where the first is after the second."""

    earliest_s: float
    latest_s: float

    @property
    def width_s(self) -> float:
        """How much time there is for the command; negative where so much is missing."""
        return self.latest_s - self.earliest_s

    @property
    def middle_s(self) -> float:
        """Half way between both."""
        return (self.earliest_s + self.latest_s) / 2

    @property
    def fits(self) -> bool:
        """Whether there is a time for the command at all."""
        return self.earliest_s <= self.latest_s

    def from_moment(self, moment_s: float) -> "Window":
        """Return what is left of it from a moment on."""
        return Window(earliest_s=max(self.earliest_s, moment_s), latest_s=self.latest_s)


def window(
    *, clear_s: float, arrive_s: float, least_reach_s: float, greatest_shut_s: float
) -> Window:
    """Return when the command must come for the blade to shut between `clear_s` and `arrive_s`."""
    return Window(earliest_s=clear_s - least_reach_s, latest_s=arrive_s - greatest_shut_s)


def least_interval_s(earliest_s: float, *, greatest_shut_s: float, fallen_s: float) -> float:
    """Return the least interval at the beam with which there is a time for the command.

    `earliest_s` counts from the head of N at the beam; `fallen_s` is how long the head of N + 1
    takes from there to the blade.
    """
    return earliest_s + greatest_shut_s - fallen_s
