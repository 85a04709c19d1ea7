"""A lamp wired to the gate's coil, in view: lit while the coil is driven to hold the gate open.

It settles when a command reached the coil, on the camera's own clock. The log of the commands may
be on the clock of the beam's board: then all commands together say how that clock stands to the
camera's. Each change of the lamp lies between two frames, so each command bounds the offset from
both sides; what all of them leave open is far less than a frame.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from viscount.errors import SourceError
from viscount.gate.commands import Commands
from viscount.values import LampEvent

Floats = NDArray[np.float64]

LEAST_CHANGES: Final = 4
"""Fewer changes of the lamp could be of anything."""
MOST_DRIFT: Final = 500e-6
"""Two quartz clocks differ by less than 100 ppm, a board's ceramic one by up to 500."""
SLACK_S: Final = 5e-5
"""By so much a board's output may jitter."""
EARLY_S, LATE_S = 5e-3, 0.1
"""A log on the capture clock is no later than the coil by more than the first, nor earlier by more
than the second."""
_DRIFTS: Final = 401
_ROOT_TWELVE: Final = 12.0**0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settled:
    """The commands as they reached the coil, on the capture clock.

    Attributes
    ----------
    commands : with what is not known of their times.
    changes : how many changes of the lamp they rest on.
    late_s : (n,) how long after each of the log's times the coil was driven, where the log is on
        the capture clock; None elsewhere.
    """

    commands: Commands
    changes: int
    late_s: Floats | None = None


def by_lamp_alone(events: Sequence[LampEvent]) -> Settled:
    """Return the lamp's own changes as the commands.

    Raises
    ------
    SourceError : too few of them.
    """
    t_s, half_s, on = _changes(events)
    return Settled(
        commands=Commands(open_at_first=not on[0], at_s=t_s, sigma_s=_sigma_s(half_s)),
        changes=len(t_s),
    )


def on_capture_clock(log: Commands, events: Sequence[LampEvent]) -> Settled:
    """Return the log's commands at the moments at which the lamp shows them.

    Raises
    ------
    SourceError : too few changes of the lamp, or such as do not go with the log.
    """
    t_s, half_s, on = _changes(events)
    found = []
    for lamp, told in _alignments(on, log):
        late_s = t_s[lamp] - log.at_s[told]
        slack_s = half_s[lamp] + 3.0 * log.sigma_s
        if np.all((late_s >= -EARLY_S - slack_s) & (late_s <= LATE_S + slack_s)):
            found.append((abs(float(np.median(late_s))), lamp, late_s))
    if not found:
        raise _apart(len(t_s), log)
    _, lamp, late_s = min(found, key=lambda one: one[0])
    return Settled(
        commands=Commands(
            open_at_first=not on[lamp][0], at_s=t_s[lamp], sigma_s=_sigma_s(half_s[lamp])
        ),
        changes=late_s.size,
        late_s=late_s,
    )


def off_the_board(log: Commands, events: Sequence[LampEvent]) -> Settled:
    """Return the log's commands, on the board's clock, put on the capture clock by the lamp.

    Raises
    ------
    SourceError : too few changes of the lamp; such as do not go with the log; or such as go with
        it in more than one way, as commands at even times do.
    """
    t_s, half_s, on = _changes(events)
    found = []
    for lamp, told in _alignments(on, log):
        fitted = _fit(log.at_s[told], t_s[lamp], half_s[lamp] + SLACK_S)
        if fitted is not None:
            found.append((lamp, told, fitted))
    if not found:
        raise _apart(len(t_s), log)
    if len(found) > 1:
        raise SourceError(
            f"the lamp's {len(t_s)} changes go with the board's log in {len(found)} ways",
            where="--lamp-px",
            allowed="commands at uneven times: only then they show which change is whose",
            remedy="let the gate rest for other times between its commands, and film it again",
        )
    lamp, told, (offset_s, drift, middle_s, sigma_s) = found[0]
    at_s = log.at_s[told]
    return Settled(
        commands=Commands(
            open_at_first=not on[lamp][0],
            at_s=at_s + offset_s + drift * (at_s - middle_s),
            sigma_s=sigma_s,
        ),
        changes=at_s.size,
    )


def _changes(events: Sequence[LampEvent]) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return times, half-widths of the intervals that hold them, and whether it went on."""
    if len(events) < LEAST_CHANGES:
        raise SourceError(
            f"{len(events)} changes of the lamp in view",
            where="--lamp-px",
            allowed=f"{LEAST_CHANGES} or more: a lamp that is lit while the coil is driven",
            remedy="put the box on the lamp; shade it, so that lit and dark differ",
        )
    t_s = 1e-9 * np.array([event.t_ns for event in events], dtype=np.float64)
    half_s = 0.5e-9 * _ROOT_TWELVE * np.array([event.sigma_ns for event in events])
    return t_s, half_s, np.array([event.on for event in events])


def _alignments(on: NDArray[np.bool_], log: Commands) -> list[tuple[slice, slice]]:
    """Return the ways to lay changes beside commands: the shorter row wholly within the longer."""
    opens = (np.arange(len(log.at_s)) % 2 == 0) != log.open_at_first
    many = min(len(on), len(opens))
    if many < LEAST_CHANGES:
        return []
    ways = []
    for first in range(max(len(on), len(opens)) - many + 1):
        whole, part = slice(0, many), slice(first, first + many)
        lamp, told = (whole, part) if len(opens) >= len(on) else (part, whole)
        if np.array_equal(on[lamp], opens[told]):
            ways.append((lamp, told))
    return ways


def _fit(board_s: Floats, t_s: Floats, half_s: Floats) -> tuple[float, float, float, float] | None:
    """Return offset, drift, the board's time to which they belong, and their uncertainty.

    Every offset and drift with which each change lies between its two frames is as likely as the
    others; their mean and spread are taken. None where there is none.
    """
    middle_s = float(board_s.mean())
    x = board_s - middle_s
    drifts = np.linspace(-MOST_DRIFT, MOST_DRIFT, _DRIFTS)
    off = t_s - board_s - drifts[:, None] * x
    low, high = (off - half_s).max(axis=1), (off + half_s).min(axis=1)
    wide = np.maximum(high - low, 0.0)
    if not wide.any():
        return None
    weight, centre = wide / wide.sum(), 0.5 * (low + high)
    offset, drift = float(weight @ centre), float(weight @ drifts)
    ends = np.array([x.min(), x.max()])[:, None]
    at_ends = (centre - offset) + (drifts - drift) * ends
    sigma_s = float(np.sqrt((at_ends**2 + wide**2 / 12.0) @ weight).max())
    return offset, drift, middle_s, sigma_s


def _sigma_s(half_s: Floats) -> float:
    return float(2.0 * np.median(half_s) / _ROOT_TWELVE)


def _apart(changes: int, log: Commands) -> SourceError:
    return SourceError(
        f"the lamp's {changes} changes do not go with the log's {len(log.at_s)} commands",
        where="--lamp-px",
        allowed="a lamp that is lit while the coil is driven to open the gate, and the log of the "
        "same run",
        remedy="see that the log fits the clip, and that nothing else shines in the box",
    )
