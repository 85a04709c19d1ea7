"""A simulated board at the other end of a pseudo-terminal, living in real time."""

import contextlib
import errno
import os
import pty
import select
import threading
import time
import tty
from collections.abc import Callable
from types import TracebackType
from typing import Self

from viscount.errors import SourceError
from viscount.testing.board import BoardSettings, SimulatedBoard

FIFO_BYTES = 64
Carry = Callable[[bytes], bytes]


def same(data: bytes) -> bytes:
    return data


class PtyBoard:
    """Drives a simulated board by the monotonic clock, in a thread of its own.

    Parameters
    ----------
    settings : of the board.
    to_host : what becomes of bytes on their way to the host.

    Attributes
    ----------
    name : of the terminal that the host opens.
    said : bytes that went to the host so far.
    """

    def __init__(
        self,
        settings: BoardSettings | None = None,
        *,
        to_host: Carry = same,
    ) -> None:
        self.settings = settings or BoardSettings()
        self.board = SimulatedBoard(self.settings, now_ns=time.monotonic_ns())
        self.lock = threading.Lock()
        self._to_host = to_host
        self._lived = threading.Condition()
        self._lived_ns = 0
        self.said = 0
        self._plug()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._live, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stopping.set()
        self._thread.join()
        self.unplug()

    def parts(self, count: int, *, every_ms: float = 8.0, dark_ms: float = 3.0) -> int:
        """Have parts fall from now on; return when the last has passed."""
        with self.lock:
            begun_ns = time.monotonic_ns() + 1_000_000
            for k in range(count):
                head_ns = begun_ns + round(k * every_ms * 1e6)
                self.board.beam(head_ns, True)
                self.board.beam(head_ns + round(dark_ms * 1e6), False)
        return begun_ns + round(count * every_ms * 1e6)

    def press(self, *, for_ms: float = 100.0) -> None:
        """Have its switch pressed now, and released after so long."""
        with self.lock:
            at_ns = time.monotonic_ns() + 1_000_000
            self.board.press(at_ns, True)
            self.board.press(at_ns + round(for_ms * 1e6), False)

    def await_time(self, t_ns: int) -> None:
        """Wait until the board has lived up to a time."""
        self.await_that(lambda: self._lived_ns >= t_ns)

    def await_that(self, true: Callable[[], bool]) -> None:
        """Wait until something is true of the board, or of its line."""
        with self._lived:
            assert self._lived.wait_for(true, 20.0)

    def unplug(self) -> None:
        """Pull the plug; the board lives on."""
        with self.lock:
            for handle in self._handles:
                with contextlib.suppress(OSError):
                    os.close(handle)
            self._handles = ()

    def plug(self) -> None:
        """Put it in again, maybe under another name."""
        with self.lock:
            self._plug()

    def _plug(self) -> None:
        master, slave = pty.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        self.name = os.ttyname(slave)
        # The slave stays open here too, so that the host may come and go.
        self._handles: tuple[int, ...] = (master, slave)
        self._pending = b""

    def _live(self) -> None:
        while not self._stopping.is_set():
            with self.lock:
                now_ns = time.monotonic_ns()
                if self._handles:
                    self._exchange(now_ns, self._handles[0])
                else:
                    # Nobody takes what it says.
                    self.board.step(now_ns, b"")
                due_ns = self.board.due_ns
            with self._lived:
                self._lived_ns = now_ns
                self._lived.notify_all()
            with self.lock:
                handles = self._handles
            wait_s = min(max(due_ns - time.monotonic_ns(), 0) * 1e-9, 0.01)
            if handles and not self._pending:
                with contextlib.suppress(OSError, ValueError):
                    select.select([handles[0]], [], [], wait_s)
            else:
                self._stopping.wait(min(wait_s, 0.002))

    def _exchange(self, now_ns: int, master: int) -> None:
        heard = b""
        with contextlib.suppress(BlockingIOError, OSError):
            heard = os.read(master, 4096)
        room = max(FIFO_BYTES * 4 - len(self._pending), 0)
        self._pending += self._to_host(self.board.step(now_ns, heard, room=room))
        while self._pending:
            try:
                sent = os.write(master, self._pending[:FIFO_BYTES])
            except OSError as error:
                if error.errno not in (errno.EAGAIN, errno.EIO):
                    raise
                return
            self._pending = self._pending[sent:]
            self.said += sent


class PtyPort:
    """The host's end of such a line, as `viscount.devices.beams.port.Port`."""

    def __init__(self, name: str) -> None:
        try:
            self._handle = os.open(name, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        except OSError as error:
            raise SourceError(f"the port cannot be opened ({error})", where=name) from error
        tty.setraw(self._handle)
        self.stalled = threading.Event()

    def read(self, wait_s: float) -> bytes:
        ready, _, _ = select.select([self._handle], [], [], wait_s)
        if not ready:
            return b""
        data = os.read(self._handle, 65536)
        if not data:
            raise OSError("the port is gone")
        return data

    def write(self, data: bytes) -> None:
        os.write(self._handle, data)

    @property
    def waiting(self) -> int:
        import fcntl
        import struct
        import termios

        with contextlib.suppress(OSError):
            return int(
                struct.unpack("i", fcntl.ioctl(self._handle, termios.FIONREAD, b"\0" * 4))[0]
            )
        return 0

    def close(self) -> None:
        if self._handle >= 0:
            os.close(self._handle)
        self._handle = -1


class PtyPorts:
    """Opens a board's terminal by the name that it has now."""

    def __init__(self, board: PtyBoard) -> None:
        self._board = board
        self.opened: list[PtyPort] = []

    @property
    def where(self) -> str:
        return "board"

    def connect(self) -> PtyPort:
        if not self._board._handles:
            raise SourceError("no such port", where="board")
        self.opened.append(PtyPort(self._board.name))
        return self.opened[-1]
