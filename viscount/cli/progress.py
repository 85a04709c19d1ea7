"""How far a long run has come, on standard error."""

import contextlib
import sys
from collections.abc import Iterator, Sequence
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
from rich.progress import Progress as Bar

from viscount.cli.screen import shown
from viscount.devices.cameras.watcher import Watcher
from viscount.outlet import Outlet
from viscount.values import Frame

_EVERY = 16
"""Frames from one update to the next: drawing must not slow the counting."""


class Progress:
    """A bar that is gone when the run has ended. Use as a context manager."""

    def __init__(self, name: str) -> None:
        self._bar = Bar(
            TextColumn("{task.description}", markup=False),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("frames"),
            TimeRemainingColumn(),
            console=Console(stderr=True),
            transient=True,
        )
        self._task = self._bar.add_task(shown(name), total=None)
        self._seen = 0

    def __enter__(self) -> Self:
        self._bar.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._bar.stop()

    def start(self, outlet: Outlet, line_px: float, frames: int | None) -> None:
        """Hear how many frames there are, if the file says so."""
        self._bar.update(self._task, total=frames)

    def frame(self, frame: Frame) -> None:
        """Count one frame more."""
        self._seen += 1
        if self._seen % _EVERY == 0:
            self._bar.update(self._task, completed=self._seen)


class Together:
    """Several watchers as one."""

    def __init__(self, watchers: Sequence[Watcher]) -> None:
        self._watchers = tuple(watchers)

    def start(self, outlet: Outlet, line_px: float, frames: int | None) -> None:
        """Tell each of them."""
        for watcher in self._watchers:
            watcher.start(outlet, line_px, frames)

    def frame(self, frame: Frame) -> None:
        """Show each of them the frame."""
        for watcher in self._watchers:
            watcher.frame(frame)


@contextlib.contextmanager
def busy(text: str) -> Iterator[None]:
    """Show that something is being done, on a terminal."""
    if not sys.stderr.isatty():
        yield
        return
    with Console(stderr=True).status(shown(text)):
        yield
