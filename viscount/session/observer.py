"""What an observer in a process of its own is handed: the newest picture, and values."""

from collections.abc import Callable, Iterator
from multiprocessing.connection import Connection
from typing import Any

from viscount.session.feed import Missed
from viscount.session.picture_board import PictureBoard, Seen


class ObserverEnd:
    """The observer's side of a run: it may miss what it is too slow for, and delays nothing.

    Attributes
    ----------
    missed : values that were not sent, so far as it has been told.
    ended : nothing more will come.
    """

    def __init__(self, board: PictureBoard, pipe: Connection) -> None:
        self._board = board
        self._pipe = pipe
        self._index = -1
        self.missed = 0
        self.ended = False

    def picture(self) -> Seen | None:
        """Return the newest picture; None where there is none newer than the last one."""
        seen = self._board.newest(after=self._index)
        if seen is not None:
            self._index = seen.index
        return seen

    def pictures(self) -> list[Seen]:
        """Return all pictures since the last one taken, as far as they are still there."""
        seen = self._board.since(self._index)
        if seen:
            self._index = seen[-1].index
        return seen

    def values(self, wait_s: float = 0.0) -> Iterator[Any]:
        """Yield what has been told, oldest first; wait for the first at most so long."""
        while not self.ended:
            try:
                if not self._pipe.poll(wait_s):
                    return
                value = self._pipe.recv()
            except (EOFError, OSError):
                self.ended = True
                return
            wait_s = 0.0
            if isinstance(value, Missed):
                self.missed += value.count
            else:
                yield value


ObserverMain = Callable[[ObserverEnd], None]
"""An observer: a function of a module, so that it can be started in a process of its own."""


def observer_main(observe: ObserverMain, board: str, pipe: Connection) -> None:
    """Run an observer; called in its own process."""
    import signal

    # Ctrl-C is for the run; the observer sees it end.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    shown = PictureBoard(board)
    try:
        observe(ObserverEnd(shown, pipe))
    finally:
        shown.close()
