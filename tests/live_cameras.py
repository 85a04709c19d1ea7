"""Cameras that follow a script, and engines that count them within this process."""

import threading
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from counting import outlet
from scenes import Shot, field_scene

from viscount.clock import Alarm, Clock, SystemClock
from viscount.errors import SourceError
from viscount.hooks.loading import load_plugins
from viscount.hooks.registry import Registry
from viscount.seams import Camera
from viscount.session.engine import Engine
from viscount.session.messages import Ended
from viscount.session.plan import LivePlan
from viscount.session.watchdog import Limits
from viscount.values import Frame, Notice

FASTER = 5
PACE_S = 1.0 / 120 / FASTER
"""From frame to frame of a scripted camera: so many times as fast as a real one."""
QUICK = Limits(first_s=25.0, silent_s=0.4, silent_intervals=8.0, repeats_s=0.25, slow_s=50.0)

Step = Frame | str | threading.Event

OUTLET = outlet(
    view={"falls": "down", "line_px": 80, "scale_px_per_mm": 4.0, "lip_px": -16.0},
    motion={"kind": "belt", "speed_mm_s": 750.0},
    camera={"readout": "global"},
)


def pour(parts: int = 10, **more: Any) -> Shot:
    """Return parts 25 ms apart on a belt, after half a second of empty frames."""
    chosen = {"speed_px_s": 3000.0, "frames_after": None} | more
    return field_scene(parts=parts, **chosen)


class FastClock(SystemClock):
    """Runs as much faster as scripted cameras do."""

    def now_ns(self) -> int:
        return FASTER * super().now_ns()


class ScriptedCamera:
    """Gives frames and does what a script says between them.

    Parameters
    ----------
    script : frames; an event to hang on until it is set; "lost" to raise; "over" to end.
    recorded, may_repeat : as for any camera.
    hangs : closing it does not end its waiting, as with a bad driver.
    """

    def __init__(
        self,
        script: Sequence[Step],
        *,
        recorded: bool = False,
        may_repeat: bool = False,
        hangs: bool = False,
        pace_s: float = PACE_S,
    ) -> None:
        self.recorded, self.may_repeat = recorded, may_repeat
        self._script = list(script)
        self._hangs = hangs
        self._pace_s = pace_s
        self._alarm = Alarm()
        self.given = 0

    def frames(self) -> Iterator[Frame]:
        first: Frame | None = None
        for step in self._script:
            if isinstance(step, Frame):
                first = first or step
                if self._alarm.wait(self._pace_s) and not self._hangs:
                    return
                yield Frame(
                    index=self.given,
                    t_ns=step.t_ns - first.t_ns,
                    pixels=step.pixels,
                    damaged=step.damaged,
                )
                self.given += 1
            elif isinstance(step, threading.Event):
                while not step.wait(0.005):
                    if self._alarm.rung and not self._hangs:
                        return
            elif step == "lost":
                raise SourceError("the plug was pulled")
            else:
                return

    def notices(self) -> tuple[Notice, ...]:
        return ()

    def close(self) -> None:
        self._alarm.ring()


def opening(*cameras: Camera | Exception) -> Callable[[], Camera]:
    """Return a maker that opens one camera after the other; the last one again and again."""
    left = list(cameras)

    def make() -> Camera:
        one = left.pop(0) if len(left) > 1 else left[0]
        if isinstance(one, Exception):
            raise one
        return one

    return make


def engine(
    make: Callable[[], Camera],
    plan: LivePlan | None = None,
    *,
    registry: Registry | None = None,
    clock: Clock | None = None,
    **more: Any,
) -> Engine:
    chosen = plan or LivePlan(source="scripted", outlet=OUTLET)
    return Engine(
        chosen,
        registry or load_plugins([]),
        clock or FastClock(),
        camera=make,
        **({"limits": QUICK} | more),
    )


def counted(make: Callable[[], Camera], plan: LivePlan | None = None, **more: Any) -> Ended:
    return engine(make, plan, **more).run()


def stopped_after(one: Engine, made: Callable[[], bool]) -> Ended:
    """Run an engine in a thread of its own; stop it once something has come true."""
    ended: list[Any] = []

    def run() -> None:
        try:
            ended.append(one.run())
        except BaseException as error:
            ended.append(error)

    running = threading.Thread(target=run)
    running.start()
    alarm = Alarm()
    for _ in range(4000):
        if made() or not running.is_alive():
            break
        alarm.wait(0.005)
    one.stop()
    running.join(20)
    assert not running.is_alive()
    if isinstance(ended[0], BaseException):
        raise ended[0]
    return ended[0]
