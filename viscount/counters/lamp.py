"""What there is to say of a lamp in view beside the pulses that should switch it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.matching import nearest
from viscount.codes import Code
from viscount.values import LampEvent, Level, Notice, Pulse

WITHIN = 2.0
"""A lamp switches with an edge of the beam where it is no farther from it than so many of its
standard uncertainties: the time between two frames is 3.5 of them long."""
LEAST_SHARE = 0.7
"""Where fewer than this share of what the lamp did goes with edges, it is not the beam's lamp."""
FEWEST = 4
"""So many events at least convict."""
SHOWN = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class LampSaid:
    """Notices about the lamp, and whether it contradicts the clocks that were found."""

    notices: tuple[Notice, ...] = ()
    contradicts: bool = False


def lamp_said(
    events: Sequence[LampEvent] | None,
    pulses: Sequence[Pulse],
    captured_ns: Mapping[int, int],
    spans_ns: NDArray[np.float64],
    sigma_ns: float,
) -> LampSaid:
    """Return what the lamp's events are worth.

    Parameters
    ----------
    events : None where no lamp was looked at.
    pulses : those of this run.
    captured_ns : when pulses began, on the capture clock, by their ids.
    spans_ns : (n, 2), the times of which the beam's log is whole, on the capture clock.
    sigma_ns : standard uncertainty of that.
    """
    known = [p for p in pulses if p.id in captured_ns]
    if events is None or not known:
        return LampSaid()
    if not events:
        return LampSaid(notices=(_notice(Level.INFO, Code.LAMP_NOT_SEEN, ""),))
    starts = np.sort([float(captured_ns[p.id]) for p in known])
    ends = [float(captured_ns[p.id] + p.end_ns - p.start_ns) for p in known]
    every = np.sort(np.concatenate([starts, ends]))
    alone = []
    logged = [e for e in events if np.any((spans_ns[:, 0] <= e.t_ns) & (e.t_ns <= spans_ns[:, 1]))]
    for event in logged:
        edges = starts if event.on else every
        at = float(event.t_ns)
        off = abs(float(edges[nearest(np.array([at]), edges)][0]) - at)
        if off > WITHIN * float(np.hypot(event.sigma_ns, sigma_ns)):
            alone.append(event)
    if len(logged) < FEWEST or len(alone) <= (1.0 - LEAST_SHARE) * len(logged):
        return LampSaid()
    places = ", ".join(f"{1e-9 * event.t_ns:.3f} s" for event in alone[:SHOWN])
    more = f" and {len(alone) - SHOWN} more" if len(alone) > SHOWN else ""
    text = (
        f"the lamp in view switched {len(logged)} times, {len(alone)} of them with no edge of the "
        f"beam: at {places}{more}"
    )
    return LampSaid(notices=(_notice(Level.DOUBT, Code.LAMP_DISAGREES, text),), contradicts=True)


def _notice(level: Level, code: Code, text: str) -> Notice:
    return Notice(level=level, code=code, text=text or code.meaning)
