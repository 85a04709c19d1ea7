"""The check, run in a process of its own, again for each change of the marks.

The window asks and goes on; a question that is overtaken by a newer one is given up in the
middle of the recording. The first question also brings back pictures to draw on.
"""

import contextlib
import multiprocessing
import os
import sys
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from types import TracebackType
from typing import Self

from viscount.errors import ViscountError
from viscount.monitor.setup.stills import Still, Stills
from viscount.monitor.setup.verdict import Sentence, Verdict, refused, verdict_of
from viscount.outlet import Outlet
from viscount.values import Frame, Level

_TELLS_EVERY = 16
_ENDS_WITHIN_S = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """An outlet that a recording is to be looked at with."""

    number: int
    outlet: Outlet


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far the look for a question is: 0 to 1, or None where nobody knows how much there is."""

    number: int
    share: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pictures:
    """Pictures to draw on."""

    stills: tuple[Still, ...]


Answer = Progress | Pictures | Verdict


class Looker:
    """Asks a process of its own what the check says. Use as a context manager.

    Parameters
    ----------
    source : the recording.
    """

    def __init__(self, source: str | Path) -> None:
        context = multiprocessing.get_context("spawn")
        self._line, theirs = context.Pipe()
        self._process = context.Process(
            target=_look, args=(theirs, str(source)), name="viscount look", daemon=True
        )
        self._process.start()
        theirs.close()
        self._asked = 0
        self._lost = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def asked(self) -> int:
        """The number of the last question; answers with a lower one are out of date."""
        return self._asked

    def ask(self, outlet: Outlet) -> None:
        """Have the recording looked at with this outlet; an earlier question is given up."""
        self._asked += 1
        with contextlib.suppress(OSError):
            self._line.send(Question(number=self._asked, outlet=outlet))

    def answers(self, wait_s: float = 0.0) -> tuple[Answer, ...]:
        """Return what was answered since the last call, at once or after `wait_s` at most."""
        found: list[Answer] = []
        try:
            while not self._lost and self._line.poll(0.0 if found else wait_s):
                found.append(self._line.recv())
        except (EOFError, OSError):
            self._lost = True
            text = "the process that runs the check has ended; save, and open this again"
            sentence = Sentence(level=Level.INVALID, text=text)
            found.append(
                Verdict(
                    number=self._asked,
                    status=None,
                    headline="the check cannot be run any more",
                    sentences=(sentence,),
                )
            )
        return tuple(found)

    def close(self) -> None:
        """End the process; harmless when repeated."""
        self._lost = True
        self._line.close()
        self._process.join(_ENDS_WITHIN_S)
        if self._process.is_alive():
            self._process.kill()
            self._process.join(_ENDS_WITHIN_S)


class _OvertakenError(Exception):
    """A newer question has come, or nobody asks any more."""


class _Watcher:
    """Tells how far a look is, gathers pictures, and gives it up where a newer question waits."""

    def __init__(self, line: Connection, number: int, *, gathers: bool) -> None:
        self._line, self._number, self._gathers = line, number, gathers
        self._frames: int | None = None
        self.stills: Stills | None = None

    def start(self, outlet: Outlet, line_px: float, frames: int | None) -> None:
        self._frames = frames
        if self._gathers:
            self.stills = Stills(frames)

    def frame(self, frame: Frame) -> None:
        if self.stills is not None:
            self.stills.add(frame)
        if frame.index % _TELLS_EVERY == 0:
            if self._line.poll():
                raise _OvertakenError
            share = None if not self._frames else min((frame.index + 1) / self._frames, 1.0)
            self._line.send(Progress(number=self._number, share=share))


def _look(line: Connection, source: str) -> None:
    """Answer questions until nobody asks any more: the process's own work."""
    # Here, because the window's own process must open at once and needs none of it.
    from viscount.checking.check import check
    from viscount.hooks.loading import load_plugins

    # What a plugin prints belongs to nobody's answer.
    with (
        Path(os.devnull).open("w", encoding="utf-8") as nowhere,
        contextlib.redirect_stdout(sys.stderr or nowhere),
        contextlib.suppress(EOFError, OSError, KeyboardInterrupt),
    ):
        registry = load_plugins()
        gathers = True
        while True:
            question: Question = line.recv()
            while line.poll():
                question = line.recv()
            watcher = _Watcher(line, question.number, gathers=gathers)
            try:
                examined = check(source, outlet=question.outlet, registry=registry, watcher=watcher)
                verdict = verdict_of(examined, question.number)
            except _OvertakenError:
                continue
            except ViscountError as error:
                verdict = refused(error, question.number)
            line.send(verdict)
            if watcher.stills is not None:
                gathers = False
                line.send(Pictures(stills=watcher.stills.taken()))
