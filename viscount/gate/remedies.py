"""What would help a cut that does not fit, in figures.

All by the window alone: the room between the last moment at which N's tail has cleared the blade
and the first at which the head of N + 1 arrives must hold the stroke of the gate, whatever
varies in the command's way, and what is not known of the times.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from viscount import fall
from viscount.gate.places import Places
from viscount.gate.rows import CutRow, Ground, greatest_shut_s, least_reach_s
from viscount.gate.streams import Streams, exactly
from viscount.stream import Poured

_LOWEST: Final = 1000.0
_HEIGHTS: Final = 80
"""Blades down to so many lengths of a part below the present one are tried, in so many steps."""
_SLOWEST: Final = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedies:
    """What would make room for the cut after part `number`, commanded from N - `back`.

    Attributes
    ----------
    need_s : the room that gate, command and doubt of the times take together.
    unsure_s : how much of that is doubt of the times, heights and scale among it.
    room_s : the room there is; negative where in some pour the head of N + 1 arrives before in
        another N's tail has cleared.
    ceiling_s : the room that there is far below; None on a belt.
    lower_by : so much lower must the blade be, in the unit of the pours, 0 where it need not;
        None where no height will do.
    slower : by this factor all intervals must grow, 1 where they need not; None beyond 20.
    column_at_lip : whether speeds at the lip were slowed with it, as a column's are.
    single_interval_s : least interval between single parts that are let go equally fast.
    stroke_s : greatest shut less least reach must be at most this; None where no gate will do.
    shut_s : and the greatest shut at most this, from the edge of the trigger.
    """

    number: int
    back: int
    need_s: float
    unsure_s: float
    room_s: float
    ceiling_s: float | None
    lower_by: float | None
    slower: float | None
    column_at_lip: bool
    single_interval_s: float
    stroke_s: float | None
    shut_s: float | None

    @property
    def enough(self) -> bool:
        """Whether there is room already."""
        return self.room_s >= self.need_s


def remedies(ground: Ground, places: Places, row: CutRow) -> Remedies | None:
    """Return what would help the cut of a row; None without strokes."""
    if ground.strokes is None or row.trigger.window is None:
        return None
    number, back = row.number, row.trigger.back
    pours = [ground.pours[i] for i in ground.eligible(number)]
    need = greatest_shut_s(ground.strokes, ground.lateness) - least_reach_s(
        ground.strokes, ground.lateness
    )
    stroke = ground.strokes.shutting.stroke_s
    spread = need - stroke
    room = row.trigger.arrive_s - row.trigger.clear_s
    plain = _room_s([exactly(pour, places) for pour in pours], number, back)
    # Two standard uncertainties at each end, as they are at the present height.
    need_plain = need + (plain - room)
    at_lip = places.lip is not None and all(_lip_speeds(p, places.lip) for p in pours)
    passing = max(
        float(stream.tail_s[0, number - 1] - stream.head_s[0, number - 1])
        for stream in (exactly(pour, places) for pour in pours)
    )
    shut = row.trigger.arrive_s - ground.lateness.latest_s
    return Remedies(
        number=number,
        back=back,
        need_s=need_plain,
        unsure_s=plain - room,
        room_s=plain,
        ceiling_s=_ceiling_s(pours, places, number, back),
        lower_by=_lower_by(pours, places, number, back, need_plain),
        slower=_slower(pours, places, number, back, need_plain, at_lip=at_lip),
        column_at_lip=at_lip,
        single_interval_s=passing + need_plain,
        stroke_s=room - spread if room > spread else None,
        shut_s=shut if room > spread and shut > 0 else None,
    )


def _room_s(streams: list[Streams], number: int, back: int) -> float:
    """Return how long all pours leave the blade free between N and N + 1, from the trigger."""
    edges = [float(s.at_beam_s[0, number - back - 1]) for s in streams]
    clear = max(float(s.tail_s[0, number - 1]) - e for s, e in zip(streams, edges, strict=True))
    arrive = min(float(s.head_s[0, number]) - e for s, e in zip(streams, edges, strict=True))
    return arrive - clear


def _ceiling_s(pours: list[Poured], places: Places, number: int, back: int) -> float | None:
    """Return what the room tends to far below; see `CutRow.gap_ceiling_s` for one pour's."""
    if any(pour.acceleration <= 0 for pour in pours):
        return None
    clears, arrives = [], []
    for pour in pours:
        rest = pour.t_s - pour.speed / pour.acceleration
        edge = float(exactly(pour, places).at_beam_s[0, number - back - 1])
        clears.append(float(rest[number - 1]) - edge)
        arrives.append(float(rest[number]) - edge)
    return min(arrives) - max(clears)


def _lower_by(
    pours: list[Poured], places: Places, number: int, back: int, need_s: float
) -> float | None:
    """Return how much lower the blade must be for the room that is needed."""

    def short_s(lower: float) -> float:
        there = replace(places, blade=places.blade + lower)
        return need_s - _room_s([exactly(pour, there) for pour in pours], number, back)

    length = float(np.mean([pour.ahead.mean() + pour.behind.mean() for pour in pours]))
    steps = [0.0, *(length * np.geomspace(0.02, _LOWEST, _HEIGHTS)).tolist()]
    return _first_enough(short_s, steps)


def _slower(
    pours: list[Poured],
    places: Places,
    number: int,
    back: int,
    need_s: float,
    *,
    at_lip: bool,
) -> float | None:
    """Return by which factor intervals must grow for the room that is needed."""
    lip = places.lip if at_lip else None

    def short_s(factor: float) -> float:
        streams = [exactly(slowed(pour, factor, lip), places) for pour in pours]
        return need_s - _room_s(streams, number, back)

    return _first_enough(short_s, np.geomspace(1.0, _SLOWEST, 30).tolist())


def slowed(pour: Poured, factor: float, lip: float | None) -> Poured:
    """Return a pour whose parts leave `factor` times as far apart.

    With the lip known its parts leave there so many times slower too, as those of a column do
    that slides more slowly; else they pass the line as fast as before.
    """
    if lip is None:
        t = pour.t_s[0] + factor * (pour.t_s - pour.t_s[0])
        return replace(pour, t_s=t)
    a = pour.acceleration
    at_lip = pour.t_s + fall.time_to(pour.speed, a, lip)
    speed = fall.speed_at(pour.speed, a, lip) / factor
    leaves = at_lip[0] + factor * (at_lip - at_lip[0])
    return replace(
        pour, t_s=leaves + fall.time_to(speed, a, -lip), speed=fall.speed_at(speed, a, -lip)
    )


def _lip_speeds(pour: Poured, lip: float) -> bool:
    """Whether the law of the fall leads all parts back to the lip."""
    return lip < 0 and bool((fall.speed_at(pour.speed, pour.acceleration, lip) > 0).all())


def _first_enough(short_s: Callable[[float], float], steps: list[float]) -> float | None:
    """Return where, between the steps, what is short first comes down to nothing."""
    before = steps[0]
    if short_s(before) <= 0:
        return before
    for step in steps[1:]:
        if short_s(step) <= 0:
            while step - before > 1e-6 * step:
                middle = (before + step) / 2
                before, step = (before, middle) if short_s(middle) <= 0 else (middle, step)
            return step
        before = step
    return None
