"""The board's clock: wraps are undone, restarts are told from them."""

from typing import Final

from viscount.values import Edge

WRAP_NS: Final = 2**32 * 1000
"""A clock of 32 bits that counts microseconds starts again after this long, 71.6 minutes."""
LONGEST_UNTOLD_NS: Final = 10_000_000_000
"""Where neither numbers nor boots tell a wrap from a restart, a wrap may hide at most so long a
pause: a restart taken for a wrap would go unnoticed, a wrap taken for a restart is only doubted."""


class BoardClock:
    """Turns the board's times into times that rise until it restarts."""

    def __init__(self) -> None:
        self.t_ns = 0
        self.wraps = 0
        self._raw_ns: int | None = None
        self._seq: int | None = None
        self._boot: int | None = None

    @property
    def raw_ns(self) -> int:
        """The last time as the board told it."""
        return self._raw_ns or 0

    def restarts_at(self, edge: Edge) -> bool:
        """Take the next edge's time, into `t_ns`; return whether the board restarted before it.

        It has where the boot changes, where numbers do not rise, and where the clock falls by
        what is no wrap. After a restart `t_ns` is the new clock's own time.
        """
        raw, last = edge.device_t_ns, self._raw_ns
        restarted = False
        if last is None:
            self.t_ns = raw
        elif edge.boot != self._boot or (
            edge.seq is not None and self._seq is not None and edge.seq <= self._seq
        ):
            restarted = True
        elif raw >= last:
            self.t_ns += raw - last
        elif self._wraps_to(raw, edge):
            self.t_ns += raw + WRAP_NS - last
            self.wraps += 1
        else:
            restarted = True
        if restarted:
            self.t_ns = raw
        self._raw_ns, self._seq, self._boot = raw, edge.seq, edge.boot
        return restarted

    def at_end(self, raw_ns: int) -> int | None:
        """Return the risen time of the log's stated end; None where the clock fell before it."""
        end = Edge(device_t_ns=raw_ns, blocked=False, boot=self._boot)
        if raw_ns >= self.raw_ns:
            return self.t_ns + raw_ns - self.raw_ns
        return self.t_ns + raw_ns + WRAP_NS - self.raw_ns if self._wraps_to(raw_ns, end) else None

    def _wraps_to(self, raw_ns: int, edge: Edge) -> bool:
        """Whether a fall of the clock to `raw_ns` is a wrap."""
        if self.raw_ns >= WRAP_NS:
            return False
        follows = self._seq is not None and edge.seq == self._seq + 1
        told = edge.boot is not None or follows
        pause_ns = raw_ns + WRAP_NS - self.raw_ns
        return pause_ns <= (WRAP_NS // 2 if told else LONGEST_UNTOLD_NS)
