"""Between the gate's trigger and the beam line: what is asked, held and heard, across threads."""

import threading
from collections import deque
from collections.abc import Sequence

from viscount.devices.protocol.asked import Answer, Outcome
from viscount.devices.protocol.link import HostLink
from viscount.devices.protocol.messages import (
    BoardMessage,
    HostMessage,
    Shut,
    SwitchTold,
    Total,
    Watch,
)
from viscount.devices.protocol.report import Report
from viscount.devices.protocol.words import Refusal
from viscount.devices.triggers.serial import Told
from viscount.packing.events import BeamEdge, BeamLost, BeamWhole, BoardHeard, Event
from viscount.session.press_switch import PressSwitch

MOST_TOLD = 4096
"""More than that nobody has read for minutes: the oldest give way."""


class GateDesk:
    """What the trigger asks of the board, and what the board told, for whoever drives a gate.

    `serve` and `heard` are called by the thread that owns the link, everything else by the one
    that drives the gate.

    Parameters
    ----------
    switch : have the board tell of its press switch.

    Attributes
    ----------
    no_switch : why the board does not tell of its switch: it has none; None as long as that is
        not known.
    """

    def __init__(self, *, switch: bool = False) -> None:
        self.no_switch: Refusal | None = None
        self._switch = PressSwitch() if switch else None
        self._silent = self._answered = False
        self._lock = threading.Lock()
        self._asks: list[HostMessage] = []
        self._hold_until_ns: int | None = None
        self._linked = False
        self._told: deque[Told] = deque(maxlen=MOST_TOLD)
        self._beam: deque[Event] = deque(maxlen=MOST_TOLD)
        self._lost = 0

    @property
    def linked(self) -> bool:
        """Whether the board has answered the greeting."""
        return self._linked

    def ask(self, message: HostMessage) -> None:
        """Send a line to the board soon; dropped where it is not linked."""
        with self._lock:
            if self._linked:
                self._asks.append(message)

    def hold(self, until_ns: int) -> None:
        """Renew the lease up to a time; where nobody says more, shut the gate then."""
        with self._lock:
            self._hold_until_ns = until_ns

    def release(self) -> None:
        """Let the lease run out, and ask nothing."""
        with self._lock:
            self._hold_until_ns = None

    def told(self) -> Sequence[Told]:
        """Return what the board said of its gate, and what became of lines, since last asked."""
        with self._lock:
            told = list(self._told)
            self._told.clear()
        return told

    def beam(self) -> Sequence[Event]:
        """Return what the beam did since this was last asked, the switch, and who fell silent."""
        with self._lock:
            beam = list(self._beam)
            self._beam.clear()
        return beam

    def serve(self, now_ns: int, link: HostLink) -> None:
        """Hand to the link what was asked; hold or release the lease."""
        with self._lock:
            asks, self._asks = self._asks, []
            until_ns = self._hold_until_ns
            overdue = until_ns is not None and now_ns > until_ns
            if overdue:
                self._hold_until_ns = None
        if not link.linked:
            return
        held = until_ns is not None and not overdue
        if held and not link.holding:
            link.hold(now_ns)
        for message in asks:
            link.ask(now_ns, message)
        if overdue:
            # Whoever drives the gate is late: it may hang, while this thread goes on.
            link.ask(now_ns, Shut())
        if not held and link.holding:
            link.release()

    def end(self, now_ns: int, link: HostLink) -> None:
        """Have the gate shut where a lease is held: the line is about to be let go."""
        if link.linked and link.holding:
            link.ask(now_ns, Shut())
            link.release()

    def heard(self, now_ns: int, report: Report, link: HostLink) -> None:
        """Take what the link tells."""
        with self._lock:
            if self._switch is not None and link.linked and not self._linked:
                # Ahead of the totals that came with the answer to the greeting.
                self._switch.begin()
            for answer in report.answers:
                if isinstance(answer.message, Watch):
                    self._watched(answer)
                else:
                    self._tell(now_ns, answer)
            for edge in report.edges:
                t_us = edge.device_t_ns // 1000
                self._beam.append(BeamEdge(heard_ns=now_ns, device_t_us=t_us, blocked=edge.blocked))
            if link.book.lost != self._lost:
                lost, self._lost = link.book.lost - self._lost, link.book.lost
                self._beam.append(BeamLost(heard_ns=now_ns, edges=lost))
            for message in report.messages:
                # A total is sent when no edge waits: what it counts has come, or is lost.
                if isinstance(message, SwitchTold):
                    self._switched(message)
                elif not isinstance(message, Total):
                    self._tell(now_ns, message)
                else:
                    if self._switch is not None:
                        self._switch.total(now_ns, message, link.book.boot)
                    self._beam.append(
                        BeamWhole(
                            heard_ns=now_ns, device_t_us=message.t_us, blocked=message.blocked
                        )
                    )
            if link.linked is not self._linked:
                self._linked = link.linked
                self._answered = self._answered or link.linked
                self._asks.clear()
                self._told.append((now_ns, link.linked))
                if self._switch is not None and link.linked:
                    self._asks.append(Watch())
            if link.silent is not self._silent:
                self._silent = link.silent
                self._beam.append(BoardHeard(heard=not link.silent, before=self._answered))

    def _watched(self, answer: Answer) -> None:
        """Take what became of the wish to be told of the switch."""
        if answer.refusal in (Refusal.KIND, Refusal.ABSENT):
            self.no_switch = answer.refusal
        elif answer.outcome is Outcome.UNANSWERED and self._linked:
            self._asks.append(Watch())

    def _switched(self, told: SwitchTold) -> None:
        new = None if self._switch is None else self._switch.told(told)
        if new is not None:
            self._beam.append(new)

    def _tell(self, now_ns: int, one: BoardMessage | Answer) -> None:
        self._told.append((now_ns, one))
