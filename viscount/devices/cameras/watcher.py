"""Whoever wants to see a recording go by."""

from typing import Protocol

from viscount.outlet import Outlet
from viscount.values import Frame


class Watcher(Protocol):
    """Looks at a run's frames as they are used; must not keep or write their pixels."""

    def start(self, outlet: Outlet, line_px: float, frames: int | None) -> None:
        """Hear what is looked for, where the line is, and how many frames there are, if known."""
        ...

    def frame(self, frame: Frame) -> None:
        """Look at one frame."""
        ...
