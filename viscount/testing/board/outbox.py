"""What a simulated board has to say, until somebody reads it."""

from collections import deque
from collections.abc import Callable

from viscount.devices.protocol.line import number_after, write_line
from viscount.devices.protocol.messages import (
    BoardMessage,
    EdgeSeen,
    SwitchTold,
    Total,
    to_line,
)


class Outbox:
    """Keeps lines until there is room for them: edges apart, the oldest give way.

    A line that had to give way takes its number with it, so that it shows as missing; an edge
    has a number of its own. Totals are made as they are sent, once nothing else waits; so is how
    the switch stands, ahead of them.

    Attributes
    ----------
    lost : edges that gave way since the reset.
    """

    def __init__(self, *, boot: int, edges: int, others: int) -> None:
        self.lost = 0
        self._boot = boot
        self._number = 0
        self._edges: deque[EdgeSeen] = deque()
        self._most_edges = edges
        self._others: deque[BoardMessage] = deque()
        self._most_others = others
        self._total_due = False
        self._switch: Callable[[], SwitchTold] | None = None

    def say(self, message: BoardMessage) -> None:
        """Put a line in; edges wait apart."""
        if isinstance(message, EdgeSeen):
            self._edges.append(message)
            if len(self._edges) > self._most_edges:
                self._edges.popleft()
                self.lost += 1
        else:
            self._others.append(message)
            if len(self._others) > self._most_others:
                self._others.popleft()
                self._number = number_after(self._number)

    def ask_total(self) -> None:
        """Have a total sent when nothing else waits."""
        self._total_due = True

    def ask_switch(self, told: Callable[[], SwitchTold]) -> None:
        """Have it sent how the switch stands, when neither other lines nor edges wait."""
        self._switch = told

    def drop_edges(self) -> None:
        """Lose the edges that wait."""
        self.lost += len(self._edges)
        self._edges.clear()

    def take(self, room: int | None, total: Callable[[], Total]) -> bytes:
        """Return whole lines for which there is room, or all of them."""
        taken = bytearray()
        while (message := self._next(total)) is not None:
            line = write_line(to_line(message, number=self._number, boot=self._boot))
            if room is not None and len(taken) + len(line) > room:
                break
            taken += line
            self._number = number_after(self._number)
            self._sent()
        return bytes(taken)

    def _next(self, total: Callable[[], Total]) -> BoardMessage | None:
        if self._others:
            return self._others[0]
        if self._edges:
            return self._edges[0]
        if self._switch is not None:
            return self._switch()
        return total() if self._total_due else None

    def _sent(self) -> None:
        if self._others:
            self._others.popleft()
        elif self._edges:
            self._edges.popleft()
        elif self._switch is not None:
            self._switch = None
        else:
            self._total_due = False
