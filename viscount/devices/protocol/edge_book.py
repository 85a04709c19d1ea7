"""Which of the board's edges came, and which did not: exact, though lines and edges are lost.

The beam has two levels, so they alternate from edge to edge: one of them belongs to the even
numbers of a boot, the other to the odd ones.
"""

from dataclasses import dataclass

from viscount.devices.protocol.messages import EdgeSeen, Hello, Total
from viscount.values import Edge

_WRAP = 2**32


class BeganAnewError(Exception):
    """The board's counts fell: it restarted, and its hello was lost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgesLost:
    """Edges that the board counted and that never came; `last` is the newest of them."""

    last: int
    count: int

    def __str__(self) -> str:
        first = (self.last - self.count + 1) % _WRAP
        numbers = f"number {self.last}" if self.count == 1 else f"numbers {first} to {self.last}"
        return f"{self.count} edge{'s' * (self.count > 1)} lost ({numbers})"


class EdgeBook:
    """Keeps account of the edges since the board answered the greeting.

    Attributes
    ----------
    boot : how many restarts were seen since.
    came : edges that came.
    lost : edges that the board counted and that never came.
    lost_in_queue : those of them that the board says its full queue cost.
    pulses : interruptions begun, of edges that came and edges that did not.
    """

    def __init__(self) -> None:
        self.boot = 0
        self.came = 0
        self.lost = 0
        self.lost_in_queue = 0
        self.pulses = 0
        self._seq: int | None = None
        self._even_is_blocked: bool | None = None
        self._total: Total | None = None

    @property
    def open(self) -> bool:
        """Whether it is known from which edge on the account runs."""
        return self._seq is not None

    @property
    def edges(self) -> int:
        """How many edges the board is known to have counted since the account was opened."""
        return self.came + self.lost

    def begin(self, hello: Hello) -> Edge:
        """Open the account behind what the board counted before anyone listened.

        Returns the beam's level there as a row with the number of the last edge before it.
        """
        self._seq = hello.edges
        self._even_is_blocked = _even_is_blocked(hello.edges, hello.blocked)
        return self.row(hello)

    def restart(self) -> None:
        """Begin another boot, whose counts start from nothing."""
        self.boot += 1
        self._seq = 0
        self._even_is_blocked = None
        self._total = None

    def row(self, hello: Hello) -> Edge:
        """Return the beam's level at a hello, as the first row of a beam log gives it."""
        return Edge(
            device_t_ns=hello.t_us * 1000, blocked=hello.blocked, seq=hello.edges, boot=self.boot
        )

    def edge(self, told: EdgeSeen) -> tuple[Edge, EdgesLost | None]:
        """Take an edge; return it as the beam's rooms know it, and what is missing ahead of it.

        Raises
        ------
        BeganAnewError : its number is not above the last one; nothing was taken.
        """
        step = self._step(told.seq)
        if not step:
            raise BeganAnewError
        self._count(step, told.seq, told.blocked)
        self.came += 1
        edge = Edge(
            device_t_ns=told.t_us * 1000, blocked=told.blocked, seq=told.seq, boot=self.boot
        )
        return edge, self._miss(step - 1, last=told.seq - 1)

    def total(self, told: Total | Hello) -> EdgesLost | None:
        """Take the board's count; return the edges that never came.

        Raises
        ------
        BeganAnewError : it is below what came already; nothing was taken.
        """
        step = self._step(told.edges)
        self._count(step, told.edges, told.blocked)
        if isinstance(told, Total):
            if self._total is not None:
                self.lost_in_queue += (told.lost - self._total.lost) % _WRAP
            self._total = told
        return self._miss(step, last=told.edges)

    def contradiction(self, told: EdgeSeen | Total | Hello) -> str:
        """Return in words what in a line cannot be true beside the lines before it, or nothing."""
        seq = told.seq if isinstance(told, EdgeSeen) else told.edges
        if self._even_is_blocked not in (None, _even_is_blocked(seq, told.blocked)):
            level = "blocked" if told.blocked else "clear"
            return f"{level} after edge {seq}, where the beam cannot be"
        if isinstance(told, Total) and self._total is not None:
            edges = (told.edges - self._total.edges) % _WRAP
            pulses = (told.pulses - self._total.pulses) % _WRAP
            begun = _pulses(told.edges, edges, _even_is_blocked(seq, told.blocked))
            if pulses != begun and edges < _WRAP // 2:
                return f"{pulses} pulses in {edges} edges, which make {begun}"
        return ""

    def _step(self, number: int) -> int:
        """Return how far the board has counted on, across the wrap."""
        if self._seq is None:
            raise RuntimeError("the account is not open")
        step = (number - self._seq) % _WRAP
        if step >= _WRAP // 2:
            raise BeganAnewError
        return step

    def _count(self, step: int, seq: int, blocked: bool) -> None:
        self._even_is_blocked = _even_is_blocked(seq, blocked)
        self.pulses += _pulses(seq, step, self._even_is_blocked)
        self._seq = seq

    def _miss(self, count: int, *, last: int) -> EdgesLost | None:
        self.lost += count
        return EdgesLost(last=last % _WRAP, count=count) if count else None


def _even_is_blocked(seq: int, blocked: bool) -> bool:
    return blocked != bool(seq % 2)


def _pulses(last: int, edges: int, even_is_blocked: bool) -> int:
    """Return how many of so many edges, up to the one with number `last`, block the beam."""
    last_blocks = even_is_blocked != bool(last % 2)
    return (edges + last_blocks) // 2
