"""The beam line: a serial port and the link to its board, tended by a thread of its own."""

import logging
import threading
from collections.abc import Callable, Sequence
from typing import Protocol

from viscount.beam.pulses import PulseMaker
from viscount.clock import Clock
from viscount.codes import Code
from viscount.counters.beam_seen import BeamSeen
from viscount.devices.beams.port import Port
from viscount.devices.protocol.link import HostLink
from viscount.devices.protocol.messages import Hello, Total
from viscount.devices.protocol.report import Report
from viscount.errors import SourceError
from viscount.session.gate_desk import GateDesk
from viscount.session.least_delay import LeastDelay
from viscount.session.messages import BeamNow, Pulsed
from viscount.tally import FileMark
from viscount.values import Edge, Level, Notice, Pulse

LONGEST_WAIT_S = 0.05
"""So long the thread waits for bytes before it looks after everything else."""
GATE_WAIT_S = 0.01
"""The same where it drives a gate."""
OPEN_AGAIN_S = 0.25
MOST_NOTICES = 200
"""Of each code so many are kept; a line that is bad for hours says the same again and again."""
_IN_RECORD = frozenset({Code.BEAM_EDGES_LOST, Code.BOARD_RESTARTED})
"""The record of the edges says these itself, with the times."""

_log = logging.getLogger("viscount.session")

EdgeTaker = Callable[[Sequence[Edge]], None]


class Ports(Protocol):
    """Opens the port, again and again."""

    @property
    def where(self) -> str:
        """The port, as messages name it."""
        ...

    def connect(self) -> Port:
        """Open it. SourceError where it is not there."""
        ...


class BeamLine:
    """Reads the beam's board from when it is started until it is stopped.

    A port that vanishes is opened again. The board counts on meanwhile, and numbers its edges: so
    what did not come is known exactly, by the next edge or the next total.

    Parameters
    ----------
    ports : opens the port.
    clock : of the host.
    take : is handed all edges as they come, in this thread.
    min_pulse_ns : interruptions shorter than this are spikes.
    gate : what is asked of the board's gate, or None; then nothing but the greeting is sent.
    tell : is told of pulses as they become final, in this thread.
    """

    def __init__(
        self,
        ports: Ports,
        clock: Clock,
        take: EdgeTaker,
        *,
        min_pulse_ns: int,
        gate: GateDesk | None = None,
        tell: Callable[[Pulsed], None] = lambda pulsed: None,
    ) -> None:
        self._tell = tell
        self._delay = LeastDelay()
        self._ports = ports
        self._gate = gate
        self._clock = clock
        self._take = take
        self._link = HostLink(clock.now_ns(), where=ports.where)
        self._maker = PulseMaker(min_pulse_ns=min_pulse_ns)
        self._pulses: list[Pulse] = []
        self._notices: list[Notice] = []
        self._port: Port | None = None
        self._open_at_ns = clock.now_ns()
        self._last_seq: int | None = None
        self._whole_until_ns: int | None = None
        self._totals = 0
        self._total_came = threading.Condition()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="beam line", daemon=True)

    def start(self) -> None:
        """Open the port, and begin to read.

        Raises
        ------
        SourceError : the port cannot be opened. One that vanishes later is waited for.
        """
        self._port = self._ports.connect()
        self._thread.start()

    @property
    def now(self) -> BeamNow:
        """How the line stands."""
        book, port = self._link.book, self._port
        return BeamNow(
            linked=self._link.linked and port is not None,
            pulses=book.pulses,
            edges=book.came,
            lost=book.lost,
            waiting=0 if port is None else port.waiting,
        )

    @property
    def whole_until_ns(self) -> int | None:
        """Up to when all edges are known, on the board's clock; None where nothing came."""
        return self._whole_until_ns

    def await_total(self, wait_s: float) -> bool:
        """Wait until the board has told its totals once more; return whether it did."""
        with self._total_came:
            seen = self._totals
            return self._total_came.wait_for(lambda: self._totals > seen, wait_s)

    def stop(self) -> None:
        """End reading, and let go of the port."""
        self._stopping.set()
        if self._thread.ident is not None:
            self._thread.join()
        self._drop_port()

    def seen(self, log: FileMark | None = None) -> BeamSeen:
        """Return all that the beam saw; only once, after `stop`."""
        self._pulses += self._maker.finish(self._whole_until_ns)
        notices = [n for n in self._notices if n.code not in _IN_RECORD]
        if not self._link.book.open:
            text = "the board never answered the greeting"
            notices.append(
                Notice(
                    level=Level.DOUBT, code=Code.BOARD_SILENT, text=text, where=self._ports.where
                )
            )
        return BeamSeen(
            pulses=tuple(self._pulses),
            record=self._maker.record,
            notices=tuple(notices),
            log=log,
        )

    def _run(self) -> None:
        while not self._stopping.is_set():
            now_ns = self._clock.now_ns()
            if self._gate is not None:
                self._gate.serve(now_ns, self._link)
            self._tend(self._link.turn(now_ns))
            if self._port is None:
                self._open(now_ns)
                continue
            due_ns = self._link.due_ns
            wait_s = LONGEST_WAIT_S if self._gate is None else GATE_WAIT_S
            if due_ns is not None:
                wait_s = min(wait_s, max(due_ns - now_ns, 0) * 1e-9)
            try:
                data = self._port.read(wait_s)
            except OSError:
                self._drop_port()
                continue
            if data:
                self._tend(self._link.hear(self._clock.now_ns(), data))
        if self._gate is not None:
            now_ns = self._clock.now_ns()
            self._gate.serve(now_ns, self._link)
            self._gate.end(now_ns, self._link)
            self._tend(self._link.turn(now_ns))

    def _open(self, now_ns: int) -> None:
        if now_ns < self._open_at_ns:
            self._stopping.wait((self._open_at_ns - now_ns) * 1e-9)
            return
        self._open_at_ns = now_ns + round(1e9 * OPEN_AGAIN_S)
        try:
            self._port = self._ports.connect()
        except SourceError:
            return
        _log.info("%s is open again", self._ports.where)

    def _drop_port(self) -> None:
        port, self._port = self._port, None
        self._open_at_ns = self._clock.now_ns() + round(1e9 * OPEN_AGAIN_S)
        if port is not None:
            _log.info("%s is let go of", self._ports.where)
            port.close()

    def _tend(self, report: Report) -> None:
        """Write what is to be written, and take what is new."""
        if report.to_send and self._port is not None:
            try:
                self._port.write(report.to_send)
            except OSError:
                self._drop_port()
        if self._gate is not None:
            self._gate.heard(self._clock.now_ns(), report, self._link)
        for notice in report.notices:
            self._keep(notice)
        final: list[Pulse] = []
        for edge in report.edges:
            final += self._maker.feed(edge)
            self._last_seq = edge.seq
            self._whole_until_ns = edge.device_t_ns
        if report.edges:
            self._take(report.edges)
            self._delay.heard(self._clock.now_ns(), self._maker.now_ns, self._maker.epoch)
        for message in report.messages:
            if isinstance(message, Total | Hello) and self._link.book.open:
                # A total that counts edges which never came speaks of a time that has holes.
                if message.edges == self._last_seq:
                    self._whole_until_ns = message.t_us * 1000
                    final += self._maker.quiet_until(message.t_us * 1000)
                if isinstance(message, Total):
                    with self._total_came:
                        self._totals += 1
                        self._total_came.notify_all()

        if final:
            self._pulses += final
            self._tell(Pulsed(pulses=tuple(final), offset_ns=self._delay.offset_ns))

    def _keep(self, notice: Notice) -> None:
        _log.debug("the beam's board: %s", notice.text)
        # A board that was silent and came back has lost nothing that its numbers do not tell.
        level = Level.INFO if notice.code is Code.BOARD_SILENT else notice.level
        same = sum(one.code is notice.code for one in self._notices)
        if same < MOST_NOTICES:
            kept = Notice(level=level, code=notice.code, text=notice.text, where=notice.where)
            self._notices.append(kept)
