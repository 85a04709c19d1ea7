"""Strokes from film: when the blade first moved after a command, and when it was at rest again.

Between two frames nobody knows how it moved. Where frames show the edge moving evenly, its
beginning lies on the line through them, known to half of what two frames tell; else anywhere
between the frame that shows it at rest and the one that does not.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.gate.commands import Commands

Floats = NDArray[np.float64]

_SURE: Final = 5.0
_LEAST_SHARE: Final = 0.02
"""The blade has moved where the share has changed by so many sigma, and by so much at least."""
_EVEN: Final = 0.3
"""A blade moves evenly where its speed changes by less than this share from frame to frame."""
_BEFORE_S: Final = 0.03
_ROOT_TWELVE: Final = 12.0**0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmedStroke:
    """One stroke; times in s after the command, with standard uncertainties.

    Attributes
    ----------
    shuts : else it opens.
    command_s : from the first frame.
    first_motion_s : None where the stream begins where the blade rests, or it cannot be told.
    begins_s, done_s : None where `why` says why they cannot be told.
    rebound : the greatest share of the box that opened again after it was first closed, or closed
        again after it was first open.
    why : what is wrong, in words; empty where nothing is.
    """

    shuts: bool
    command_s: float
    first_motion_s: float | None = None
    begins_s: float | None = None
    sigma_begins_s: float = 0.0
    done_s: float | None = None
    sigma_done_s: float = 0.0
    rebound: float = 0.0
    why: str = ""


def strokes_of(
    t_s: Floats,
    share: Floats,
    sigma: float,
    commands: Commands,
    *,
    exposure_s: float,
    stream: tuple[float, float] = (0.0, 1.0),
) -> list[FilmedStroke]:
    """Return every stroke that a clip shows from its command to its end.

    Parameters
    ----------
    t_s, share : (n,) times of the frames, and how much is covered: 0 open, 1 shut.
    sigma : standard uncertainty of each share.
    exposure_s : of a frame, whose time may mark any moment of it.
    stream : the shares at which the edge, as it shuts, enters the stream and has crossed it.
    """
    found = []
    for k, at in enumerate(commands.at_s.tolist()):
        shuts = commands.open_at_first == (k % 2 == 0)
        until = commands.at_s[k + 1] if k + 1 < len(commands.at_s) else np.inf
        own = (t_s >= at - _BEFORE_S) & (t_s < until)
        way = share[own] if shuts else 1.0 - share[own]
        sides = stream if shuts else (1.0 - stream[1], 1.0 - stream[0])
        near = max(_SURE * sigma, _LEAST_SHARE)
        film = _Film(t_s[own] - at, way, near, sigma, sides)
        known_s = float(np.hypot(exposure_s / _ROOT_TWELVE, commands.sigma_s))
        found.append(film.stroke(at, shuts=shuts, known_s=known_s))
    return found


class _Film:
    """The frames about one command; `way` is 0 before the stroke and 1 after it."""

    def __init__(
        self, t_s: Floats, way: Floats, near: float, sigma: float, sides: tuple[float, float]
    ) -> None:
        self._t_s, self._way, self._near, self._sigma = t_s, way, near, sigma
        self._enters, self._across = sides

    def stroke(self, at_s: float, *, shuts: bool, known_s: float) -> FilmedStroke:
        plain = {"shuts": shuts, "command_s": at_s}
        before = self._t_s <= 0
        moved = np.flatnonzero(self._way > self._near)
        away = np.flatnonzero(self._way < 1.0 - self._near)
        why = ""
        if before.sum() < 1 or not len(moved) or not len(away):
            why = "the clip does not show it from its command to its end"
        elif (np.abs(self._way[before]) > self._near).any():
            why = "something moves in the box before the command"
        elif away[-1] + 2 >= len(self._way):
            why = "the blade is not at rest before the next command, or the clip's end"
        if why:
            return FilmedStroke(**plain, why=why)  # type: ignore[arg-type]
        moves, off_moves = self._beginning(int(moved[0]))
        begins, off_begin, first_motion = moves, off_moves, None
        if self._enters > self._near:
            first_motion = max(moves, 0.0)
            begins, off_begin = self._crossing(
                int(np.flatnonzero(self._way > self._enters)[0]) - 1, self._enters
            )
        done, off_done = self._end(int(away[-1]))
        if self._across < 1.0 - self._near:
            last = int(np.flatnonzero(self._way < self._across)[-1])
            done, off_done = self._crossing(last, self._across)
        first_there = int(np.flatnonzero(self._way >= 1.0 - self._near)[0])
        rebound = max(float((1.0 - self._way[first_there:]).max()), 0.0)
        return FilmedStroke(
            **plain,  # type: ignore[arg-type]
            first_motion_s=first_motion,
            begins_s=max(begins, first_motion or 0.0),
            sigma_begins_s=float(np.hypot(off_begin, known_s)),
            done_s=max(done, begins, first_motion or 0.0),
            sigma_done_s=float(np.hypot(off_done, known_s)),
            rebound=rebound if rebound > self._near else 0.0,
        )

    def _beginning(self, first: int) -> tuple[float, float]:
        """Return when it began to move: after the last frame at rest, by the first that moved."""
        t, way = self._t_s, self._way
        low, high = float(t[max(first - 1, 0)]), float(t[first])
        rate = self._rate(first)
        if rate is None:
            return (low + high) / 2, (high - low) / _ROOT_TWELVE
        met = min(max(high - float(way[first]) / rate, low), high)
        even = self._rate(first + 1)
        if even is None or abs(even - rate) > _EVEN * rate:
            return met, (high - low) / _ROOT_TWELVE
        sigma = float(np.hypot((high - low) / _ROOT_TWELVE / 2.0, 2.0 * self._sigma / rate))
        return met, min(sigma, (high - low) / _ROOT_TWELVE)

    def _end(self, last: int) -> tuple[float, float]:
        """Return when it was there for good: after the last frame on its way.

        However evenly it comes, it may rebound between two frames: its end is never known better
        than they tell.
        """
        t, way = self._t_s, self._way
        low, high = float(t[last]), float(t[last + 1])
        met, rate, before = (low + high) / 2, self._rate(last - 1), self._rate(last - 2)
        if rate is not None and before is not None and abs(before - rate) <= _EVEN * before:
            met = min(max(low + (1.0 - float(way[last])) / rate, low), high)
        return met, (high - low) / _ROOT_TWELVE

    def _crossing(self, before: int, share: float) -> tuple[float, float]:
        """Return when it passed a share, between one frame and the next."""
        t, way = self._t_s[before : before + 2], self._way[before : before + 2]
        met = float(t[0] + (share - way[0]) / (way[1] - way[0]) * (t[1] - t[0]))
        return met, float(t[1] - t[0]) / _ROOT_TWELVE

    def _rate(self, at: int) -> float | None:
        """Return how fast it moves from one frame to the next; None where one is not on its way."""
        if at < 0 or at + 1 >= len(self._t_s):
            return None
        one, other = float(self._way[at]), float(self._way[at + 1])
        if not self._near < one < other < 1.0 - self._near:
            return None
        return (other - one) / float(self._t_s[at + 1] - self._t_s[at])
