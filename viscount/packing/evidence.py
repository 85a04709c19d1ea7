"""What was seen of one pour, from the gate's readiness until all parts have settled."""

from collections.abc import Sequence

from viscount.packing.order import PackOrder
from viscount.seams import GateReport

_WRAP = 2**32


class Evidence:
    """Gathers what gate, beam and camera tell of one pour.

    Attributes
    ----------
    heads : parts by the board's head edges, spikes among them.
    camera : parts through the line. doubt : chance that this is wrong, at most.
    over : how the gate's readiness ended; None before that.
    opened : the gate was opened, or the blade moved.
    seen_shut : the sensor saw the blade shut since.
    reasons : what is against the pour, apart from the counts.
    """

    def __init__(self) -> None:
        self.heads = 0
        self.camera = 0
        self.doubt = 0.0
        self.over: GateReport | None = None
        self.seen_shut = False
        self.opened = False
        self.reasons: list[str] = []
        self._dark: list[tuple[int, int | None]] = []

    def edge(self, device_t_us: int, *, blocked: bool) -> bool:
        """Take a change of the beam; return whether it is a head edge."""
        dark_now = bool(self._dark) and self._dark[-1][1] is None
        if blocked is dark_now:
            return False
        if blocked:
            self._dark.append((device_t_us, None))
            self.heads += 1
        else:
            self._dark[-1] = (self._dark[-1][0], device_t_us)
        return blocked

    def saw(self, parts: int, doubt: float) -> None:
        """Take a final passage."""
        self.camera += parts
        self.doubt += doubt
        if parts < 0:
            self.against("a part went back up past the camera's line")

    def against(self, reason: str) -> None:
        """Note what is against the pour, once."""
        if reason not in self.reasons:
            self.reasons.append(reason)

    @property
    def still_dark(self) -> bool:
        """Whether the beam is blocked."""
        return bool(self._dark) and self._dark[-1][1] is None

    def parts(self, order: PackOrder) -> Sequence[tuple[int, int]]:
        """Return the pulses (start and end in µs from the gate's shutting), spikes left out."""
        zero_us = self.over.device_t_us if self.over and self.over.device_t_us else 0
        pulses: list[tuple[int, int]] = []
        for start_us, end_us in self._dark:
            if end_us is None:
                end_us = start_us
            start, end = _from(zero_us, start_us), _from(zero_us, end_us)
            if pulses and start - pulses[-1][1] < order.least_pulse_us:
                pulses[-1] = (pulses[-1][0], end)
            else:
                pulses.append((start, end))
        return [(a, b) for a, b in pulses if b - a >= order.least_pulse_us]

    def heads_until_shut(self) -> int:
        """Return how many head edges came by the time at which the gate shut."""
        if self.over is None or self.over.device_t_us is None:
            return self.heads
        zero_us = self.over.device_t_us
        return sum(_from(zero_us, start_us) <= 0 for start_us, _ in self._dark)


def _from(zero_us: int, t_us: int) -> int:
    """Return the time from one moment to another on a clock that wraps."""
    return (t_us - zero_us + _WRAP // 2) % _WRAP - _WRAP // 2
