"""A live run as its caller sees it: started, watched, stopped; nothing of it is left behind."""

import contextlib
import multiprocessing
from collections.abc import Iterator, Sequence
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from types import TracebackType
from typing import Any, Self

from viscount.clips.partial import partial_path
from viscount.errors import ExitStatus, ViscountError
from viscount.packing.events import HandCount, Said
from viscount.session.engine_log import log_plan
from viscount.session.engine_process import STOP, engine_main
from viscount.session.messages import Ended, Failed
from viscount.session.observer import ObserverEnd, ObserverMain, observer_main
from viscount.session.picture_board import PictureBoard
from viscount.session.plan import LivePlan
from viscount.session.windows import Windows

OBSERVER_WAIT_S = 1.0
"""So long an observer may take to end once the run has."""
ENGINE_WAIT_S = 10.0


class EngineLostError(ViscountError):
    """The engine's process ended without an answer."""

    exit_status = ExitStatus.INVALID


class LiveRun:
    """One live run in processes of its own. Use as a context manager.

    Parameters
    ----------
    plan : what it is to do.
    observers : functions of modules, each run in a process of its own.
    shown : the same, for windows: they stay until they are closed, and end no run.

    Attributes
    ----------
    windows : those that were opened; whoever started the run waits for them, or ends them.
    """

    def __init__(
        self,
        plan: LivePlan,
        observers: Sequence[ObserverMain] = (),
        *,
        shown: Sequence[ObserverMain] = (),
    ) -> None:
        self.windows = Windows()
        self._plan = plan
        self._observers = tuple(observers)
        self._shown = tuple(shown)
        self._made: list[BaseProcess] = []
        self._ends: list[Connection] = []
        self._end: Ended | Failed | None = None

    def __enter__(self) -> Self:
        """Start the engine and the observers."""
        spawn = multiprocessing.get_context("spawn")
        self._board = PictureBoard()
        try:
            self._control, theirs = spawn.Pipe()
            own, values = spawn.Pipe(duplex=False)
            pipes = [values]
            self._ends = [self._control, own]
            watching: list[tuple[ObserverMain, Connection]] = []
            for observe in (*self._observers, *self._shown):
                reads, writes = spawn.Pipe(duplex=False)
                pipes.append(writes)
                watching.append((observe, reads))
            self._engine = spawn.Process(
                target=engine_main,
                args=(self._plan, theirs, pipes, self._board.name, log_plan()),
                name="viscount engine",
            )
            self._start(self._engine, [theirs, *pipes])
            for number, (observe, reads) in enumerate(watching):
                args = (observe, self._board.name, reads)
                process = spawn.Process(target=observer_main, args=args, name="viscount observer")
                stays = number >= len(self._observers)
                self._start(process, [reads], stays=stays)
        except BaseException:
            self.close()
            self.windows.end()
            raise
        self._values = ObserverEnd(self._board, own)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def engine_pid(self) -> int | None:
        """The engine's process."""
        return self._engine.pid

    @property
    def began(self) -> bool:
        """Whether a picture has come."""
        return self._board.newest() is not None

    @property
    def view(self) -> ObserverEnd:
        """The caller's own view of the run, for a caller that observes without a process."""
        return self._values

    def values(self, wait_s: float) -> Iterator[Any]:
        """Yield what the engine has told; wait for the first at most so long."""
        return self._values.values(wait_s)

    def ended(self, wait_s: float = 0.0) -> bool:
        """Whether the run has ended; wait for that at most so long."""
        if self._end is None:
            with contextlib.suppress(EOFError, OSError):
                if not self._control.poll(wait_s):
                    return False
                self._end = self._control.recv()
            if self._end is None:
                self._end = Failed(error=self._lost())
        return True

    def stop(self) -> None:
        """Have the run end as a run: what has come is counted, files are closed."""
        with contextlib.suppress(OSError):
            self._control.send(STOP)

    def press(self, said: Said | HandCount) -> None:
        """Pass on what the person who packs says."""
        with contextlib.suppress(OSError):
            self._control.send(said)

    def result(self, wait_s: float | None = None) -> Ended:
        """Return how the run ended; wait for that.

        Raises
        ------
        viscount.errors.ViscountError : as the engine met it; or the engine itself was lost.
        TimeoutError : it has not ended in that time.
        """
        if wait_s is None:
            while not self.ended(1.0):
                pass
        elif not self.ended(wait_s):
            raise TimeoutError(f"the run has not ended within {wait_s:g} s")
        if isinstance(self._end, Failed):
            raise self._end.error
        assert isinstance(self._end, Ended)
        return self._end

    def close(self) -> None:
        """End everything that is still there; harmless when repeated."""
        if self._made and self._end is None:
            self.stop()
        for number, process in enumerate(self._made):
            process.join(ENGINE_WAIT_S if number == 0 else OBSERVER_WAIT_S)
            if process.is_alive():
                process.terminate()
                process.join(OBSERVER_WAIT_S)
            if process.is_alive():
                process.kill()
                process.join()
            process.close()
        self._made = []
        for end in self._ends:
            end.close()
        self._ends = []
        self._board.close()

    def _start(
        self, process: BaseProcess, given: Sequence[Connection], *, stays: bool = False
    ) -> None:
        """Start a process; what was given to it is then its own alone."""
        self._ends += given
        process.start()
        if stays:
            self.windows.add(process)
        else:
            self._made.append(process)
        for end in given:
            end.close()
            self._ends.remove(end)

    def _lost(self) -> EngineLostError:
        self._engine.join(1.0)
        files = [str(partial_path(p)) for p in (self._plan.clip, self._plan.beam_log) if p]
        kept = f"; what was recorded is in {' and '.join(files)}" if files else ""
        return EngineLostError(
            f"the counting process ended without an answer (status {self._engine.exitcode})",
            where=self._plan.source,
            remedy=f"run it again{kept}",
        )
