"""A camera's program on a phone, as tests need it: motion JPEG over HTTP, with faults on demand."""

import contextlib
import http.server
import socket
import threading
import time
from collections.abc import Sequence
from types import TracebackType
from typing import Self

import cv2
import numpy as np

_HEAD = b"--frame\r\nContent-Type: image/jpeg\r\nContent-Length: %d\r\n\r\n"


class MjpegServer:
    """Shows pictures one after the other, each at its own time, whoever looks.

    Parameters
    ----------
    pictures : (H, W) uint8; they begin anew when the last was shown.
    rate_hz : pictures a second.

    Attributes
    ----------
    shown : (number, monotonic ns) of every picture that was sent whole.
    left_ns : by number, when a picture was handed to the network, last of all: at its own time, or
        late where the computer is busy.
    halved : numbers of pictures to be sent by half.
    """

    def __init__(self, pictures: Sequence[np.ndarray], *, rate_hz: float = 120.0) -> None:
        self._jpegs = [cv2.imencode(".jpg", p)[1].tobytes() for p in pictures]
        self._interval_ns = round(1e9 / rate_hz)
        self._begun_ns: int | None = None
        self._gone = threading.Event()
        self._going = threading.Event()
        self._going.set()
        self._served = threading.Condition()
        self._server: http.server.ThreadingHTTPServer | None = None
        self._sockets: list[socket.socket] = []
        self._port = 0
        self.shown: list[tuple[int, int]] = []
        self.left_ns: dict[int, int] = {}
        self.halved: set[int] = set()

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.kill()

    def due_ns(self, number: int) -> int:
        """Return the picture's own time: when it would have been taken."""
        assert self._begun_ns is not None
        return self._begun_ns + number * self._interval_ns

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._port}/"

    def start(self) -> None:
        """Listen, at the port of before if there was one."""
        self._gone = gone = threading.Event()
        outer = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                outer._sockets.append(self.connection)
                with contextlib.suppress(OSError):
                    outer._serve(self, gone)

            def log_message(self, *args: object) -> None:
                pass

        class Server(http.server.ThreadingHTTPServer):
            daemon_threads = True
            allow_reuse_address = True

            def handle_error(self, *args: object) -> None:
                pass

        self._server = Server(("127.0.0.1", self._port), Handler)
        self._port = self._server.server_port
        self._thread = threading.Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True
        )
        self._thread.start()

    def kill(self) -> None:
        """Be gone: no new connection, and those that were are reset."""
        self._gone.set()
        server, self._server = self._server, None
        if server is None:
            return
        for one in self._sockets:
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
        self._sockets = []
        server.shutdown()
        server.server_close()
        self._thread.join()

    def stall(self) -> None:
        """Send nothing more for now; time goes on."""
        self._going.clear()

    def go_on(self) -> None:
        self._going.set()

    def await_shown(self, number: int, wait_s: float = 20.0) -> None:
        """Wait until picture `number`, or one after it, has been sent."""
        with self._served:
            came = self._served.wait_for(
                lambda: bool(self.shown) and self.shown[-1][0] >= number, wait_s
            )
        assert came, f"picture {number} was never asked for"

    def _serve(self, handler: http.server.BaseHTTPRequestHandler, gone: threading.Event) -> None:
        handler.send_response(200)
        handler.send_header("Content-Type", "multipart/x-mixed-replace; boundary=frame")
        handler.end_headers()
        if self._begun_ns is None:
            self._begun_ns = time.monotonic_ns()
        number = -(-(time.monotonic_ns() - self._begun_ns) // self._interval_ns)
        while not gone.is_set():
            due_ns = self.due_ns(number)
            if gone.wait(max(due_ns - time.monotonic_ns(), 0) * 1e-9):
                return
            if not self._going.is_set():
                self._going.wait(20.0)
                number = -(-(time.monotonic_ns() - self._begun_ns) // self._interval_ns)
                continue
            jpeg = self._jpegs[number % len(self._jpegs)]
            half = number in self.halved
            data = jpeg[: len(jpeg) // 2] if half else jpeg
            left_ns = time.monotonic_ns()
            handler.wfile.write(_HEAD % len(data) + data + b"\r\n")
            self.left_ns[number] = left_ns
            if not half:
                with self._served:
                    self.shown.append((number, time.monotonic_ns()))
                    self._served.notify_all()
            number += 1
