"""The engine: everything of a live run that must not wait, on one process's main thread.

The camera, the beam line and the recording have threads of their own, which mostly wait. Frames
come through a bounded queue; what does not fit is blind time. Edges are never left out. Observers
are told through feeds that never hold anything up.
"""

import logging
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from viscount.beam.pulses import DEFAULT_MIN_PULSE_NS
from viscount.clock import Clock
from viscount.codes import Code
from viscount.counters.both import with_beam
from viscount.errors import SourceError
from viscount.hooks.registry import Registry
from viscount.outlet import Outlet
from viscount.packing.events import CameraStands, HandCount, Said
from viscount.seams import Camera
from viscount.session.beam_line import BeamLine, Ports
from viscount.session.beginning import began_with
from viscount.session.bounded import BoundedQueue
from viscount.session.capture import Capture, Captured, Opened, Over, Taken
from viscount.session.live_count import LiveCount
from viscount.session.log_mark import mark_of
from viscount.session.messages import Ended, Passed, Snapshot, Timing, Told, Value
from viscount.session.packer import Packer
from viscount.session.plan import LivePlan
from viscount.session.recorder import Recorder
from viscount.session.sweeper import Sweeper
from viscount.session.watchdog import Limits, Watchdog
from viscount.values import Frame, Level, Notice, Passage

LOOKS_EVERY_S = 0.02
"""So often the engine looks after camera and beam line where no frame comes."""
SNAPSHOT_NS = 100_000_000
TOTAL_WAIT_S = 0.5
"""A board tells its totals five times a second."""
CLOSE_WAIT_S = 1.0
AGAIN_NS = (0, 200_000_000, 500_000_000, 1_000_000_000)
"""How long after a failed opening the camera is opened again; the last one from then on."""
MOST_NOTICES = 200

_log = logging.getLogger("viscount.session")

Tell = Callable[[Value], None]


class Show(Protocol):
    """Shows the newest picture to whoever looks."""

    def show(self, pixels: NDArray[np.uint8], *, index: int, t_ns: int, age_ns: int) -> None:
        """Show a picture."""
        ...


class Engine:
    """One live run, from the opening of its camera to its tally.

    Parameters
    ----------
    plan : what it is to do.
    registry : loaded plugins.
    clock : of the host.
    camera : opens the camera; `name` is that of its entry.
    tell : is handed every value for the observers.
    show : shows pictures, or None.
    ports : opens the beam's port, or None.
    limits : of the watchdog.
    inbox : where frames wait; None for one of the usual size.
    packer : drives a gate beside the beam line, or None.
    sweeper : sweeps between frames, or None where Python does when it likes.
    """

    def __init__(
        self,
        plan: LivePlan,
        registry: Registry,
        clock: Clock,
        *,
        camera: Callable[[], Camera],
        name: str = "",
        tell: Tell = lambda value: None,
        show: Show | None = None,
        ports: Ports | None = None,
        limits: Limits | None = None,
        inbox: BoundedQueue[Captured] | None = None,
        packer: Packer | None = None,
        sweeper: Sweeper | None = None,
    ) -> None:
        self._plan = plan
        self._sweeper = sweeper
        self._clock = clock
        self._name = name
        self._tell = tell
        self._show = show
        self._limits = limits or Limits()
        self._inbox: BoundedQueue[Captured] = BoundedQueue() if inbox is None else inbox
        self._capture = Capture(camera, self._inbox, clock)
        self._recorder = Recorder(plan.clip, plan.beam_log, lossless=plan.lossless)
        self._packer = packer
        self._beam = None
        if ports is not None:
            least_ns = _least_ns(plan.outlet)
            gate = None if packer is None else packer.desk
            self._beam = BeamLine(
                ports, clock, self._recorder.edges, min_pulse_ns=least_ns, gate=gate, tell=tell
            )
        self._count = LiveCount(plan, registry, clock, self._taken)
        if packer is not None:
            packer.look_through(self._count.looks)
        self._recorded = self._may_repeat = False
        self._dog: Watchdog | None = None
        self._interval_ns: float | None = None
        self._again = 0
        self._again_ns: int | None = None
        self._wrong = ""
        self._notices: list[Notice] = []
        self._camera_notices: tuple[Notice, ...] = ()
        self._first_ns: int | None = None
        self._counted_ns = 0
        self._snapshot_ns = 0
        self._stopped = False
        self._over = False

    def stop(self) -> None:
        """End the run as soon as what has come is counted; from any thread, or a signal."""
        self._stopped = True

    def press(self, said: Said | HandCount) -> None:
        """Hear a word of the person who packs; from any thread."""
        if self._packer is not None:
            self._packer.press(said)

    def run(self) -> Ended:
        """Count until the source ends, the time is over, or somebody stops it.

        Raises
        ------
        viscount.errors.ViscountError : camera or port cannot be opened, or nothing comes.
        """
        try:
            if self._beam is not None:
                self._beam.start()
            self._open()
            while not self._is_over():
                item = self._inbox.get(LOOKS_EVERY_S)
                if item is not None:
                    self._take(item)
                self._tend(self._clock.now_ns())
            return self._ended()
        except BaseException:
            self._abandon()
            raise

    def _is_over(self) -> bool:
        asked = self._over or self._stopped
        if self._packer is None:
            return asked
        return self._packer.is_over(self._clock.now_ns(), asked=asked)

    def _open(self) -> None:
        self._again_ns = None
        self._dog = None
        if self._sweeper is not None:
            self._sweeper.opened()
        self._capture.begin()
        _log.info("opening the camera, for the %d. time", self._capture.opening)
        self._opened_ns = self._clock.now_ns()

    def _take(self, item: Captured) -> None:
        if item.opening != self._capture.opening:
            return
        if isinstance(item, Opened):
            self._recorded, self._may_repeat = item.recorded, item.may_repeat
            self._dog = Watchdog(
                self._clock.now_ns(),
                limits=self._limits,
                watches_repeats=not item.may_repeat,
                interval_ns=self._interval_ns,
            )
        elif isinstance(item, Over):
            self._camera_over(item)
        else:
            self._frame(item)

    def _frame(self, taken: Taken) -> None:
        if self._is_late(taken):
            self._over = True
            return
        began, counted = self._count.began, self._count.book.counted
        found, repeated = self._count.take(
            taken, may_repeat=self._may_repeat, recorded=self._recorded
        )
        if self._dog is not None:
            self._dog.frame(taken.arrived_ns, repeated=repeated)
            self._interval_ns = self._interval_ns or self._dog.interval_ns
        if self._first_ns is None:
            self._first_ns = taken.arrived_ns
        if self._count.book.counted > counted:
            # A camera that sends what cannot be counted is not on again.
            self._counted_ns = taken.arrived_ns
            self._again, self._wrong = 0, ""
        if self._count.began and not began:
            self._say_began()
        self._passed(found)
        self._over = self._over or self._count.failed
        if self._sweeper is not None:
            self._sweeper.frame(waiting=len(self._inbox))

    def _is_late(self, taken: Taken) -> bool:
        """Whether a recorded frame is beyond the time that was asked for."""
        for_s = self._plan.for_s
        return self._recorded and for_s is not None and taken.frame.t_ns > 1e9 * for_s

    def _taken(self, frame: Frame, age_ns: int) -> None:
        self._recorder.picture(frame.t_ns, frame.pixels)
        if self._show is not None:
            self._show.show(frame.pixels, index=frame.index, t_ns=frame.t_ns, age_ns=age_ns)

    def _camera_over(self, over: Over) -> None:
        self._count.missed(over.missed)
        self._camera_notices = tuple(dict.fromkeys([*self._camera_notices, *over.notices]))
        if self._recorded and over.error is None:
            self._over = True
            return
        if self._first_ns is None and self._again == 0:
            raise over.error or SourceError(
                "the camera gave no picture",
                where=self._plan.source,
                remedy="check that it works with another program",
            )
        if self._recorded and over.error is not None:
            raise over.error
        said = str(over.error) if over.error is not None else "it ended"
        self._trouble(Code.CAMERA_LOST, said)

    def _trouble(self, code: Code, text: str) -> None:
        """Tell what is wrong with the camera, and have it opened again."""
        _log.warning("%s: %s", code.value, text)
        if self._again == 0:
            at_s = (self._count.last_ns or 0) * 1e-9
            where = f"after {at_s:.3f} s"
            notice = Notice(level=Level.INFO, code=code, text=f"{text}; {where}", where=where)
            if len(self._notices) < MOST_NOTICES:
                self._notices.append(notice)
            self._tell(Told(notice=notice))
        self._wrong = text
        wait_ns = AGAIN_NS[min(self._again, len(AGAIN_NS) - 1)]
        self._again += 1
        self._capture.let_go()
        self._dog = None
        self._again_ns = self._clock.now_ns() + wait_ns

    def _tend(self, now_ns: int) -> None:
        """Look after camera and time."""
        trouble = None
        if self._again_ns is not None and now_ns >= self._again_ns:
            self._open()
        elif self._dog is not None and not self._recorded and not len(self._inbox):
            trouble = self._dog.trouble(now_ns)
        if trouble is not None:
            if self._first_ns is None:
                raise SourceError(
                    trouble.text,
                    where=self._plan.source,
                    remedy="check that the camera works with another program",
                )
            self._trouble(trouble.code, trouble.text)
        self._keep_time(now_ns)
        if self._packer is not None and self._count.began:
            stands = CameraStands(
                final_ns=self._count.final_ns, blind_s=self._count.blind_s, trouble=self._wrong
            )
            self._packer.tend(now_ns, stands)
        if now_ns - self._snapshot_ns >= SNAPSHOT_NS:
            self._snapshot_ns = now_ns
            self._tell(self._now())

    def _keep_time(self, now_ns: int) -> None:
        for_s = self._plan.for_s
        timed = for_s is not None and not self._recorded and self._first_ns is not None
        if timed and now_ns - (self._first_ns or 0) > 1e9 * (for_s or 0.0):
            self._over = True

    def _ended(self) -> Ended:
        """Let go of the camera, count what has come, and write everything down."""
        ended_ns = self._clock.now_ns()
        if self._packer is not None:
            self._packer.close(ended_ns)
        self._capture.stop(CLOSE_WAIT_S)
        if not self._over:
            self._drain()
        gone = self._is_gone(ended_ns)
        if self._count.last_ns is None:
            raise SourceError("no picture came before the run ended", where=self._plan.source)
        if not self._count.began:
            self._passed(self._count.begin())
            self._say_began()
        self._passed(self._count.end(ended_ns if gone else None))
        if self._beam is not None:
            self._beam.await_total(TOTAL_WAIT_S)
            self._beam.stop()
        whole = None if self._beam is None else self._beam.whole_until_ns
        clip, log = self._recorder.close(whole)
        notices = [*self._camera_notices, *self._notices, *self._recorder.notices()]
        tally = self._count.tally(notices, gone=gone)
        # Packing has judged bag by bag; a day's parts are not paired once more.
        if self._packer is None and self._beam is not None and tally.set_up is not None:
            seen = self._beam.seen(None if log is None else mark_of(log))
            tally = with_beam(tally, seen, self._plan.outlet, tally.set_up)
        self._tell(self._now())
        _log.info("%d frames: %s, %s", tally.frames.read, tally.count, tally.status.value)
        return Ended(tally=tally, timing=self._timing(), clip=_name(clip), beam_log=_name(log))

    def _is_gone(self, now_ns: int) -> bool:
        """Whether the camera shows nothing new as the run ends."""
        if self._recorded:
            return False
        limits = self._limits
        usual_ns = self._interval_ns or 0.0
        patience_ns = max(1e9 * limits.silent_s, limits.silent_intervals * usual_ns)
        silent = now_ns - self._counted_ns > patience_ns
        return self._again_ns is not None or bool(self._wrong) or silent

    def _drain(self) -> None:
        """Count the frames that had come by the end."""
        self._inbox.close()
        while (item := self._inbox.get(0.0)) is not None:
            if isinstance(item, Taken) and item.opening == self._capture.opening:
                self._frame(item)
            elif isinstance(item, Over):
                self._count.missed(item.missed)
                self._camera_notices = tuple(dict.fromkeys([*self._camera_notices, *item.notices]))

    def _abandon(self) -> None:
        """Close everything after an error, the gate first."""
        if self._packer is not None:
            self._packer.close(self._clock.now_ns())
            if self._beam is not None:
                self._beam.stop()
        self._capture.stop(CLOSE_WAIT_S)
        if self._beam is not None:
            self._beam.stop()
        self._recorder.close(None if self._beam is None else self._beam.whole_until_ns)

    def _passed(self, found: Sequence[Passage]) -> None:
        if found:
            if self._packer is not None:
                self._packer.passed(self._clock.now_ns(), found)
            self._tell(Passed(passages=tuple(found), set_up=self._count.run.set_up))

    def _say_began(self) -> None:
        geometry = self._count.run.geometry
        _log.info("counting begins: %s px, line at %g px", geometry.picture, geometry.line_px)
        self._tell(began_with(self._name, self._plan.outlet, self._count))

    def _now(self) -> Snapshot:
        count = self._count
        return Snapshot(
            t_s=(count.last_ns or 0) * 1e-9,
            count=count.parts,
            frames=count.book.counted,
            dropped=count.book.dropped,
            rate_hz=count.book.rate_hz,
            blind_s=count.blind_s,
            age_ms=1e3 * count.last_age_s,
            queued=len(self._inbox),
            camera=self._wrong or ("on" if self._first_ns is not None else "opening"),
            beam=None if self._beam is None else self._beam.now,
            unrecorded=None if self._recorder.clip is None else self._recorder.missed,
        )

    def _timing(self) -> Timing:
        work, age = self._count.work, self._count.age
        return Timing(
            work_p50_s=work.at(0.5),
            work_p99_s=work.at(0.99),
            work_most_s=work.most,
            age_p50_s=age.at(0.5),
            age_p99_s=age.at(0.99),
            age_most_s=age.most,
        )


def _name(path: Path | None) -> str | None:
    return None if path is None else str(path)


def _least_ns(outlet: Outlet) -> int:
    beam = outlet.beam
    if beam is None or beam.min_pulse_us is None:
        return DEFAULT_MIN_PULSE_NS
    return round(1e3 * beam.min_pulse_us)
