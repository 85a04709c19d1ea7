"""The beam line over a pseudo-terminal, with a simulated board at its other end."""

import random
import threading
import time
from collections.abc import Callable, Sequence

import pytest
from pty_boards import PtyBoard, PtyPort, PtyPorts

from viscount.clock import SystemClock
from viscount.codes import Code
from viscount.errors import SourceError
from viscount.session.beam_line import BeamLine
from viscount.testing.board import BoardSettings
from viscount.values import Edge, Level


class Heard:
    """Takes edges, and lets a test wait for them."""

    def __init__(self) -> None:
        self.edges: list[Edge] = []
        self._changed = threading.Condition()

    def __call__(self, edges: Sequence[Edge]) -> None:
        with self._changed:
            self.edges += edges
            self._changed.notify_all()

    def wait(self, true: Callable[[], bool], wait_s: float = 10.0) -> None:
        with self._changed:
            assert self._changed.wait_for(true, wait_s)


def line_to(board: PtyBoard, heard: Heard, ports: PtyPorts | None = None) -> BeamLine:
    return BeamLine(ports or PtyPorts(board), SystemClock(), heard, min_pulse_ns=100_000)


def await_all(line: BeamLine, edges: int) -> None:
    """Wait until the line knows of so many edges, come or lost."""
    for _ in range(50):
        if line.now.edges + line.now.lost >= edges:
            return
        line.await_total(1.0)
    raise AssertionError(f"{line.now} after a long time")


def test_every_edge_comes_and_every_part_is_a_pulse() -> None:
    heard = Heard()
    with PtyBoard() as board:
        line = line_to(board, heard)
        line.start()
        assert line.await_total(5.0)
        board.parts(50, every_ms=4.0, dark_ms=2.0)
        heard.wait(lambda: len(heard.edges) == 101)
        assert line.await_total(5.0)
        line.stop()
    seen = line.seen()
    assert len(seen.pulses) == 50
    assert seen.record.lost_edges == 0
    assert seen.record.end_known
    assert line.now.pulses == 50
    assert seen.notices == ()


def test_pulses_are_told_as_they_come_and_the_last_one_soon_after() -> None:
    heard, told = Heard(), []
    clock = SystemClock()
    with PtyBoard() as board:
        line = BeamLine(PtyPorts(board), clock, heard, min_pulse_ns=100_000, tell=told.append)
        line.start()
        assert line.await_total(5.0)
        board.parts(20, every_ms=4.0, dark_ms=2.0)
        heard.wait(lambda: len(heard.edges) == 41)
        # The total tells that nothing came since.
        assert line.await_total(5.0)
        assert line.await_total(5.0)
        pulses = [one for value in told for one in value.pulses]
        assert [one.id for one in pulses] == list(range(20))
        at_ns = pulses[-1].end_ns + told[-1].offset_ns
        assert 0 < clock.now_ns() - at_ns < 60_000_000_000
        line.stop()
    assert line.seen().pulses == tuple(pulses)


@pytest.mark.parametrize("stall_s", [0.3])
def test_a_reader_that_stalls_loses_nothing_that_the_system_holds(stall_s: float) -> None:
    """250 edges a second; the reader does not read for a while."""
    heard = Heard()
    go = threading.Event()
    go.set()

    class Stalling(PtyPort):
        def read(self, wait_s: float) -> bytes:
            go.wait(10)
            return super().read(wait_s)

    class Ports(PtyPorts):
        def connect(self) -> PtyPort:
            return Stalling(self._board.name)

    with PtyBoard() as board:
        line = line_to(board, heard, Ports(board))
        line.start()
        assert line.await_total(5.0)
        board.parts(100, every_ms=8.0)
        heard.wait(lambda: len(heard.edges) > 20)
        go.clear()
        board.await_time(time.monotonic_ns() + round(1e9 * stall_s))
        go.set()
        await_all(line, 200)
        line.stop()
    assert line.now.pulses == 100
    assert len(heard.edges) == 201 - line.now.lost


def test_what_a_bad_cable_loses_is_stated_exactly() -> None:
    rng = random.Random(3)

    def bad(data: bytes) -> bytes:
        return bytes(b ^ 0x04 if rng.random() < 0.004 else b for b in data)

    heard = Heard()
    with PtyBoard(to_host=bad) as board:
        line = line_to(board, heard)
        line.start()
        heard.wait(lambda: bool(heard.edges))
        board.parts(120, every_ms=4.0, dark_ms=2.0)
        await_all(line, 240)
        line.stop()
    lost = line.now.lost
    assert lost > 0
    assert line.now.pulses == 120
    assert {e.seq for e in heard.edges} | set(range(241)) == set(range(241))
    assert 241 - len({e.seq for e in heard.edges}) == lost
    # Where the last edges are lost, the log is whole up to the last that came only.
    seen = line.seen()
    assert seen.record.lost_edges == sum(
        b.seq - a.seq - 1 for a, b in zip(heard.edges, heard.edges[1:], strict=False)
    )


def test_a_log_is_not_called_whole_over_edges_that_never_came() -> None:
    """The last two edges are lost; the totals after them count ten."""
    lines = b""

    def bad(data: bytes) -> bytes:
        nonlocal lines
        *whole, lines = (lines + data).split(b"\n")
        kept = [one for one in whole if b" edge 9 " not in one and b" edge 10 " not in one]
        return b"".join(one + b"\n" for one in kept)

    heard = Heard()
    with PtyBoard(to_host=bad) as board:
        line = line_to(board, heard)
        line.start()
        assert line.await_total(5.0)
        board.await_time(board.parts(5, every_ms=4.0))
        await_all(line, 10)
        assert line.await_total(5.0)
        line.stop()
    assert (line.now.edges, line.now.lost, line.now.pulses) == (8, 2, 5)
    assert line.whole_until_ns == heard.edges[-1].device_t_ns
    assert len(line.seen().pulses) == 4


def test_a_pulled_plug_is_waited_for_and_what_passed_meanwhile_is_counted() -> None:
    heard = Heard()
    with PtyBoard() as board:
        line = line_to(board, heard)
        line.start()
        assert line.await_total(5.0)
        board.parts(10, every_ms=4.0)
        heard.wait(lambda: len(heard.edges) == 21)
        board.unplug()
        end_ns = board.parts(5, every_ms=4.0)
        board.await_time(end_ns)
        board.plug()
        assert line.await_total(5.0)
        board.parts(10, every_ms=4.0)
        heard.wait(lambda: heard.edges[-1].seq == 50)
        assert line.await_total(5.0)
        line.stop()
    assert line.now.pulses == 25
    assert (line.now.edges, line.now.lost) == (40, 10)
    seen = line.seen()
    assert seen.record.lost_edges == 10
    assert seen.record.end_known
    assert all(n.level is Level.INFO for n in seen.notices)


def test_a_board_that_restarts_is_greeted_anew() -> None:
    heard = Heard()
    with PtyBoard() as board:
        line = line_to(board, heard)
        line.start()
        assert line.await_total(5.0)
        board.parts(3)
        heard.wait(lambda: len(heard.edges) == 7)
        with board.lock:
            board.board.reset(time.monotonic_ns() + 1_000_000)
        heard.wait(lambda: heard.edges[-1].boot == 1)
        while not line.now.linked:
            line.await_total(0.1)
        board.parts(4)
        heard.wait(lambda: heard.edges[-1].seq == 8)
        line.stop()
    seen = line.seen()
    assert seen.record.restarts == 1
    assert len(seen.pulses) == 7
    assert Code.BOARD_RESTARTED not in [n.code for n in seen.notices]


def test_opening_the_port_moves_no_gate() -> None:
    """Some boards reset as the port is opened; the coil stays off whatever happens."""
    heard = Heard()
    with PtyBoard(BoardSettings(resets_on_open=True)) as board:
        line = line_to(board, heard)
        with board.lock:
            board.board.open_port(time.monotonic_ns() + 1_000_000)
        line.start()
        assert line.await_total(5.0)
        line.stop()
        assert not any(change.on for change in board.board.coil_log)


def test_a_board_that_never_answers_is_a_doubt() -> None:
    heard = Heard()
    with PtyBoard(to_host=lambda data: b"") as board:
        line = line_to(board, heard)
        line.start()
        assert not line.await_total(0.2)
        line.stop()
    seen = line.seen()
    assert [(n.code, n.level) for n in seen.notices] == [(Code.BOARD_SILENT, Level.DOUBT)]
    assert seen.pulses == ()


def test_a_port_that_is_not_there_is_said_at_once() -> None:
    with PtyBoard() as board:
        line = line_to(board, Heard())
        board.unplug()
        with pytest.raises(SourceError, match="no such port"):
            line.start()
        line.stop()


def test_bytes_that_wait_are_shown() -> None:
    heard = Heard()
    free, held = threading.Event(), threading.Event()
    free.set()

    class Holding(PtyPort):
        def read(self, wait_s: float) -> bytes:
            if not free.is_set():
                held.set()
            free.wait(10)
            return super().read(wait_s)

    class Ports(PtyPorts):
        def connect(self) -> PtyPort:
            return Holding(self._board.name)

    with PtyBoard() as board:
        line = line_to(board, heard, Ports(board))
        line.start()
        assert line.await_total(5.0)
        free.clear()
        assert held.wait(10)
        said = board.said
        board.parts(5)
        board.await_that(lambda: board.said > said + 200)
        assert line.now.waiting > 100
        free.set()
        heard.wait(lambda: len(heard.edges) == 11)
        line.stop()
