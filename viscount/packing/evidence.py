"""What was seen of one pour, from the gate's readiness until all parts have settled."""

from collections.abc import Sequence

from viscount.packing.order import PackOrder
from viscount.packing.paired import PourSeen
from viscount.seams import GateReport
from viscount.values import Passage, Pulse

_WRAP = 2**32


class Evidence:
    """Gathers what gate, beam and camera tell of one pour.

    Attributes
    ----------
    heads : parts by the board's head edges, spikes among them.
    passages : what the camera saw; `camera` is their sum, in parts.
    doubt : chance that this is wrong, at most.
    over : how the gate's readiness ended; None before that.
    opened : the gate was opened, or the blade moved.
    seen_shut : the sensor saw the blade shut since.
    reasons : what is against the pour, apart from the counts.
    """

    def __init__(self) -> None:
        self.heads = 0
        self.camera = 0
        self.passages: list[Passage] = []
        self.doubt = 0.0
        self.over: GateReport | None = None
        self.seen_shut = False
        self.opened = False
        self.reasons: list[str] = []
        self._dark: list[tuple[int, int | None]] = []
        self._heard_ns = 0

    def edge(self, heard_ns: int, device_t_us: int, *, blocked: bool) -> bool:
        """Take a change of the beam; return whether it is a head edge."""
        dark_now = bool(self._dark) and self._dark[-1][1] is None
        if blocked is dark_now:
            return False
        if not self._dark:
            self._heard_ns = heard_ns
        if blocked:
            self._dark.append((device_t_us, None))
            self.heads += 1
        else:
            self._dark[-1] = (self._dark[-1][0], device_t_us)
        return blocked

    def saw(self, passage: Passage, parts: int) -> None:
        """Take a final passage; `parts` are negative against the fall."""
        self.passages.append(passage)
        self.camera += parts
        self.doubt += passage.doubt
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
        zero_us = self._zero_us
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

    def seen(self, pulses: Sequence[tuple[int, int]], *, before: int = 0) -> PourSeen:
        """Return what is to be paired: these of the pulses, as `parts` gives them.

        Parameters
        ----------
        before : so many parts fell first, and the beam saw them in an earlier pour.
        """
        zero_us = self._zero_us
        passages = sorted(self.passages, key=lambda one: one.t_ns)
        first_us = _from(zero_us, self._dark[0][0]) if self._dark else 0
        return PourSeen(
            passages=_without_first(passages, before),
            pulses=[
                Pulse(
                    id=k, epoch=0, start_ns=1000 * (zero_us + start), end_ns=1000 * (zero_us + end)
                )
                for k, (start, end) in enumerate(pulses)
            ],
            heard_ns=self._heard_ns - 1000 * (zero_us + first_us),
        )

    @property
    def _zero_us(self) -> int:
        return self.over.device_t_us if self.over and self.over.device_t_us else 0

    def heads_until_shut(self) -> int:
        """Return how many head edges came by the time at which the gate shut."""
        if self.over is None or self.over.device_t_us is None:
            return self.heads
        zero_us = self.over.device_t_us
        return sum(_from(zero_us, start_us) <= 0 for start_us, _ in self._dark)


def _without_first(passages: Sequence[Passage], parts: int) -> Sequence[Passage]:
    """Return the passages behind the first so many parts."""
    k = 0
    while k < len(passages) and parts >= passages[k].parts:
        parts -= passages[k].parts
        k += 1
    return passages[k:]


def _from(zero_us: int, t_us: int) -> int:
    """Return the time from one moment to another on a clock that wraps."""
    return (t_us - zero_us + _WRAP // 2) % _WRAP - _WRAP // 2
