"""Reading ahead: pictures are decoded in a thread of their own while others are looked at."""

import threading
from collections.abc import Iterator
from queue import SimpleQueue
from typing import Generic, Self, TypeVar

ItemT = TypeVar("ItemT")

MOST_READY = 4
"""Items that may wait. They even out that some take longer than others; more would only hold
memory."""


class ReadAhead(Generic[ItemT]):
    """Takes items from an iterator in a thread of its own, a few ahead of whoever asks for them.

    They come as they are and in order, and what the iterator raises comes unchanged after those
    before it. The thread begins when the first is asked for, and ends with the last, or by
    `close`; from then on there are no more.

    Parameters
    ----------
    items : asked by that thread only; `close` leaves it where it stands.
    most : so many items may wait, 1 or more.

    Attributes
    ----------
    closed : there may have been more, but nobody wants them.
    """

    def __init__(self, items: Iterator[ItemT], *, most: int = MOST_READY) -> None:
        self._items = items
        self._ready: SimpleQueue[tuple[ItemT] | BaseException] = SimpleQueue()
        self._room: SimpleQueue[None] = SimpleQueue()
        for _ in range(most):
            self._room.put(None)
        self._over = False
        self.closed = False
        # A daemon: whoever forgets to close it can still end.
        self._thread = threading.Thread(target=self._run, name="read ahead", daemon=True)

    def __iter__(self) -> Self:
        return self

    def __next__(self) -> ItemT:
        if self._over:
            raise StopIteration
        if self._thread.ident is None:
            self._thread.start()
        taken = self._ready.get()
        if isinstance(taken, BaseException):
            self._over = True
            raise taken
        self._room.put(None)
        return taken[0]

    def close(self) -> None:
        """End the thread as soon as the item at hand is done; harmless when repeated."""
        self._over = self.closed = True
        self._room.put(None)
        if self._thread.ident is not None:
            self._thread.join()

    def _run(self) -> None:
        try:
            while self._has_room():
                self._ready.put((next(self._items),))
        except BaseException as error:  # their end, too, is told by one
            self._ready.put(error)

    def _has_room(self) -> bool:
        """Wait until fewer items wait than may; false once nobody wants them."""
        self._room.get()
        return not self._over
