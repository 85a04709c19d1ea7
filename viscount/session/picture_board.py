"""The newest pictures, in memory that several processes share.

One writes, others read, and nobody waits. There are places for as many pictures as fit, at most
`MOST_PLACES`; the writer fills the one that is longest out of use and says then that it is the
newest. A reader that is overtaken while it copies notices by the place's number, which is odd
while it is being written, and takes the newest again.
"""

import contextlib
from dataclasses import dataclass
from multiprocessing.shared_memory import SharedMemory
from typing import Final

import numpy as np
from numpy.typing import NDArray

LEAST_PLACES: Final = 3
MOST_PLACES: Final = 128
_HEAD: Final = 8
_TURN, _INDEX, _TIME, _AGE, _HEIGHT, _WIDTH, _SHRUNK, _AT = range(_HEAD)
MOST_BYTES: Final = 8 << 20
"""Of one picture; a larger one is shown in every second line and column, or fewer."""
ALL_BYTES: Final = LEAST_PLACES * MOST_BYTES
_PAGE: Final = 4096
_TRIES: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """A picture from the board.

    Attributes
    ----------
    index, t_ns : of its frame, times from the first.
    age_ns : how old it was when it was counted.
    shrunk : every so many lines and columns are shown.
    pixels : (H, W) uint8, the reader's own copy.
    """

    index: int
    t_ns: int
    age_ns: int
    shrunk: int
    pixels: NDArray[np.uint8]


class PictureBoard:
    """Shows the newest picture. Whoever makes it also takes it away; others attach by name.

    Parameters
    ----------
    name : of a board that exists; None makes one. Memory is used only as far as pictures reach.
    """

    def __init__(self, name: str | None = None) -> None:
        size = 8 * (1 + MOST_PLACES * _HEAD) + ALL_BYTES
        self._own = name is None
        self._memory = SharedMemory(name=name, create=name is None, size=size if self._own else 0)
        memory = self._memory.buf
        assert memory is not None
        heads = np.frombuffer(memory, np.int64, 1 + MOST_PLACES * _HEAD)
        self._newest = heads[:1]
        self._heads = heads[1:].reshape(MOST_PLACES, _HEAD)
        self._pixels = np.frombuffer(memory, np.uint8, ALL_BYTES, offset=heads.nbytes)
        self._next = self._places = self._room = 0
        if self._own:
            self._newest[0] = -1

    @property
    def name(self) -> str:
        """The name by which another process attaches."""
        return self._memory.name

    def show(self, pixels: NDArray[np.uint8], *, index: int, t_ns: int, age_ns: int) -> None:
        """Show a picture, (H, W) uint8; never waits."""
        shrunk = 1
        while -(-pixels.shape[0] // shrunk) * -(-pixels.shape[1] // shrunk) > MOST_BYTES:
            shrunk += 1
        shown = pixels[::shrunk, ::shrunk]
        height, width = shown.shape
        if height * width > self._room:
            self._lay_out(height * width)
        head = self._heads[self._next]
        at = self._next * self._room
        head[_TURN] += 1
        head[_INDEX:] = (index, t_ns, age_ns, height, width, shrunk, at)
        self._pixels[at : at + height * width].reshape(height, width)[:] = shown
        head[_TURN] += 1
        self._newest[0] = self._next
        self._next = (self._next + 1) % self._places

    def newest(self, *, after: int = -1) -> Seen | None:
        """Return the newest picture, copied; None where none is newer than index `after`."""
        for _ in range(_TRIES):
            place = int(self._newest[0])
            if place < 0:
                return None
            seen = self._copied(place)
            if seen is None:
                continue
            return seen if seen.index > after else None
        return None

    def since(self, after: int) -> list[Seen]:
        """Return all pictures newer than index `after` that are still there, oldest first."""
        if self._newest[0] < 0:
            return []
        shown = np.flatnonzero((self._heads[:, _TURN] > 0) & (self._heads[:, _INDEX] > after))
        found = (self._copied(int(place)) for place in shown)
        newer = [one for one in found if one is not None and one.index > after]
        return sorted(newer, key=lambda one: one.index)

    def _lay_out(self, size: int) -> None:
        """Make places that are large enough; whatever is there is gone for every reader."""
        self._newest[0] = -1
        self._room = -(-size // _PAGE) * _PAGE
        self._places = min(MOST_PLACES, ALL_BYTES // self._room)
        self._next = 0
        self._heads[:, _INDEX] = -1
        self._heads[:, _TURN] += 2

    def _copied(self, place: int) -> Seen | None:
        """Return the picture of a place; None where it is being written over."""
        head = self._heads[place]
        turn = int(head[_TURN])
        _, index, t_ns, age_ns, height, width, shrunk, at = head.tolist()
        if turn % 2 or index < 0 or not 0 <= at <= at + height * width <= ALL_BYTES:
            return None
        pixels = self._pixels[at : at + height * width].reshape(height, width).copy()
        if int(head[_TURN]) != turn:
            return None
        return Seen(index=index, t_ns=t_ns, age_ns=age_ns, shrunk=shrunk, pixels=pixels)

    def close(self) -> None:
        """Detach; the maker's memory is given back. Harmless when repeated."""
        # Views into the memory keep it from being let go of.
        self.__dict__.pop("_newest", None)
        self.__dict__.pop("_heads", None)
        self.__dict__.pop("_pixels", None)
        with contextlib.suppress(BufferError):
            self._memory.close()
        if self._own:
            self._own = False
            self._memory.unlink()
