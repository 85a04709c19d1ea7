"""The common time axis: passages carried to the beam, pulses turned to the capture clock."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.arrival import Arrival
from viscount.agreement.clock import ClockLine
from viscount.agreement.error_rates import ErrorRates
from viscount.agreement.events import Dark, Due, early_us, part_chances
from viscount.agreement.outline import UNKNOWN, outline
from viscount.agreement.watch import Watch, inside
from viscount.values import Pulse, Signature

Floats = NDArray[np.float64]

EDGE_US = 300.0
"""How sharply a blind time begins and ends for one part."""
AHEAD_US = 5_000.0
"""The speed at a pulse is that of the last arrival before it, or this little after it."""


class Axis:
    """Turns values into events on one axis, in us from `origin_ns` on the capture clock.

    Parameters
    ----------
    signature : what one part does to the beam, or None.
    rates : how often the counters err.
    usual_px : length of one part in the picture, or None.
    usual_speed : at the beam, for pulses before the first arrival.
    """

    def __init__(
        self,
        signature: Signature | None,
        rates: ErrorRates,
        *,
        usual_px: float | None = None,
        usual_speed: float | None = None,
    ) -> None:
        self.origin_ns: int | None = None
        self._signature = signature
        self._rates = rates
        self._usual_px = usual_px
        self._last = (-np.inf, usual_speed, 0.0)

    def dues(
        self, arrivals: Sequence[Arrival], clocks: Sequence[ClockLine], watch: Watch
    ) -> list[Due]:
        """Return arrivals on the axis, in order of time."""
        if not arrivals:
            return []
        origin = self._origin(clocks, arrivals[0].due_ns)
        own = np.array([np.hypot(a.passage.sigma_ns, a.sigma_ns) for a in arrivals]) * 1e-3
        common = np.array([1e-3 * a.common_ns for a in arrivals])
        due = np.array([a.due_ns - origin for a in arrivals], dtype=np.int64) * 1e-3
        sigma = np.maximum(own, 1.0)
        at = due.astype(np.float64)
        for clock, chosen in _by_clock(clocks, at, origin):
            t_s = 1e-6 * (at[chosen] + 1e-3 * (origin - clock.origin_ns))
            sigma[chosen] = np.hypot(
                clock.scatter * sigma[chosen], clock.sigma_us(t_s, common[chosen])
            )
            at[chosen] = at[chosen] + clock.height * common[chosen]
        spans = watch.beam_spans_captured_us(clocks, origin)
        watched = inside(spans, at, sigma) if clocks else np.zeros(at.size)
        found = []
        for k, arrival in enumerate(arrivals):
            parts = part_chances(arrival.passage, self._rates, self._usual_px)
            own_outline = outline(self._signature, arrival.speed)
            found.append(
                Due(
                    arrival=arrival,
                    at_us=float(at[k]),
                    sigma_us=float(sigma[k]),
                    parts=parts,
                    watched=float(watched[k]),
                    own=own_outline,
                    early_us=early_us(parts, own_outline),
                )
            )
        return sorted(found, key=lambda due: (due.at_us, due.arrival.passage.id))

    def darks(
        self, pulses: Sequence[Pulse], clock: ClockLine, dues: Sequence[Due], watch: Watch
    ) -> list[Dark]:
        """Return pulses of one epoch on the axis; `dues` are those still waiting, in order."""
        origin = self._origin((clock,), clock.origin_ns)
        shift = 1e-3 * (clock.origin_ns - origin)
        edges = [
            shift
            + clock.captured_us(
                np.array([1e-3 * (edge - clock.board_origin_ns) for edge in side], dtype=np.float64)
            )
            for side in ([p.start_ns for p in pulses], [p.end_ns for p in pulses])
        ]
        start, end = edges
        at = np.array([due.at_us for due in dues])
        before = np.searchsorted(at, start + AHEAD_US) - 1
        ways = [self._way(dues, int(k)) for k in before]
        lined = start - np.array([transit for _, transit in ways])
        seen = inside(1e-3 * (watch.camera_spans() - origin), lined, np.full(start.size, EDGE_US))
        return [
            Dark(
                pulse=pulse,
                start_us=float(start[k]),
                end_us=float(end[k]),
                seen=float(seen[k]),
                own=outline(self._signature, ways[k][0]) if self._signature else UNKNOWN,
            )
            for k, pulse in enumerate(pulses)
        ]

    def passed(self, dues: Sequence[Due]) -> None:
        """Remember the last of arrivals that leave."""
        if dues:
            last = dues[-1]
            if last.at_us >= self._last[0]:
                transit = 1e-3 * last.arrival.transit_ns
                self._last = (last.at_us, last.arrival.speed or self._last[1], transit)

    def _way(self, dues: Sequence[Due], before: int) -> tuple[float | None, float]:
        """Return speed and transit of the last arrival before a pulse."""
        if before < 0:
            return self._last[1:]
        arrival = dues[before].arrival
        return arrival.speed or self._last[1], 1e-3 * arrival.transit_ns

    def _origin(self, clocks: Sequence[ClockLine], otherwise: int) -> int:
        if self.origin_ns is None:
            self.origin_ns = clocks[0].origin_ns if clocks else otherwise
        return self.origin_ns


def _by_clock(
    clocks: Sequence[ClockLine], at_us: Floats, origin_ns: int
) -> list[tuple[ClockLine, NDArray[np.bool_]]]:
    """Return each epoch's clock with the moments that are its own: nearer to it than to others."""
    if not clocks:
        return []
    spans = [
        [1e6 * clock.states[k].at_s + 1e-3 * (clock.origin_ns - origin_ns) for k in (0, -1)]
        for clock in clocks
    ]
    order = sorted(range(len(clocks)), key=lambda k: spans[k][0])
    middles = [0.5 * (spans[a][1] + spans[b][0]) for a, b in pairwise(order)]
    own = np.searchsorted(middles, at_us)
    return [(clocks[k], own == place) for place, k in enumerate(order)]
