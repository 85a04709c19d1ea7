"""Queues between threads that never grow: what does not fit is turned away, and counted."""

import threading
from collections import deque
from typing import Generic, TypeVar

ItemT = TypeVar("ItemT")

MOST_FRAMES = 256
MOST_BYTES = 64 << 20


class BoundedQueue(Generic[ItemT]):
    """Hands items from one thread to another, in order.

    A full queue turns the newcomer away: whoever fell behind goes on with what is already there,
    and from then on gets as many as it can take, evenly spread.

    Parameters
    ----------
    most_items, most_bytes : it is full with either. One item always fits.
    """

    def __init__(self, *, most_items: int = MOST_FRAMES, most_bytes: int = MOST_BYTES) -> None:
        self._most_items = most_items
        self._most_bytes = most_bytes
        self._items: deque[tuple[ItemT, int]] = deque()
        self._bytes = 0
        self._changed = threading.Condition()
        self._closed = False

    def __len__(self) -> int:
        return len(self._items)

    @property
    def closed(self) -> bool:
        """Whether nothing more will come."""
        return self._closed

    def put(self, item: ItemT, size: int = 0, *, anyway: bool = False) -> bool:
        """Append an item; return whether it fitted. With `anyway` it is never turned away."""
        with self._changed:
            if self._closed:
                return False
            full = len(self._items) >= self._most_items or self._bytes + size > self._most_bytes
            if full and self._items and not anyway:
                return False
            self._items.append((item, size))
            self._bytes += size
            self._changed.notify()
            return True

    def get(self, wait_s: float) -> ItemT | None:
        """Return the oldest item; None where none came in that time, or none will."""
        with self._changed:
            if not self._items and not self._closed:
                self._changed.wait(wait_s)
            if not self._items:
                return None
            item, size = self._items.popleft()
            self._bytes -= size
            return item

    def close(self) -> None:
        """Take nothing more; what is there can still be got."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()
