"""Observers for tests, as functions of a module: they run in processes of their own."""

import os
from pathlib import Path

from viscount.clock import Alarm
from viscount.monitor.model.facts import Facts
from viscount.monitor.opening import watch
from viscount.session.messages import Ended
from viscount.session.observer import ObserverEnd
from viscount.session.picture_board import Seen

PLACE = "VISCOUNT_TEST_OBSERVER"
"""Names a file in which an observer writes what it saw."""


def looking(end: ObserverEnd) -> None:
    """Look at pictures and values as a window would, until the run ends."""
    pictures = values = 0
    while not end.ended:
        values += sum(1 for _ in end.values(0.02))
        pictures += end.picture() is not None
    text = f"{pictures} {values} {end.missed}"
    Path(os.environ[PLACE]).write_text(text, encoding="utf-8")


def asleep(end: ObserverEnd) -> None:
    """Look at nothing at all, until whoever started it loses patience."""
    Alarm().wait(60.0)


def blocked_for_a_while(end: ObserverEnd) -> None:
    """Look, block for 5 s, look again."""
    for _ in range(20):
        list(end.values(0.05))
        end.picture()
    Alarm().wait(5.0)
    looking(end)


def staying(end: ObserverEnd) -> None:
    """Look as a window does, and stay when the run has ended until a file says to close."""
    place = Path(os.environ[PLACE])
    seen, last = set(), ""
    while not end.ended:
        for value in end.values(0.01):
            if isinstance(value, Ended):
                last = f"Ended {value.tally.count}"
        seen |= {one.index for one in end.pictures()}
    alarm = Alarm()
    while not place.with_name(place.name + ".close").exists():
        alarm.wait(0.01)
    place.write_text(f"{last} {len(seen)}", encoding="utf-8")


def leaving(end: ObserverEnd) -> None:
    """Close as soon as anything is told."""
    while not end.ended and not list(end.values(1.0)):
        pass


def window_open(end: ObserverEnd) -> None:
    """The monitor's window, with nobody at it."""
    watch(Facts(title="watched"), "dark", end)


def window_blocked_for_a_while(end: ObserverEnd) -> None:
    """The same, and its process is blocked for 5 s soon after the run has begun."""
    _Blocked.left = 40
    watch(Facts(title="blocked"), "dark", _Blocked(end._board, end._pipe))


class _Blocked(ObserverEnd):
    left = 0

    def pictures(self) -> list[Seen]:
        _Blocked.left -= 1
        if _Blocked.left == 0:
            Alarm().wait(5.0)
        return super().pictures()
