"""Pulses of pours that the recording does not show: a log may be of a whole day."""

from collections.abc import Sequence

from viscount.agreement.clock_fit import ClockFit
from viscount.beam.record import BeamRecord
from viscount.counters.watching import captured
from viscount.values import Pulse


def inside_run(
    pulses: Sequence[Pulse],
    fit: ClockFit,
    record: BeamRecord,
    *,
    span_ns: tuple[int, int],
    transit_ns: float,
    quiet_ns: float,
) -> tuple[Pulse, ...]:
    """Return the pulses, in order, of pours that the recording shows at least in part.

    Parameters
    ----------
    span_ns : from the first frame to the last.
    transit_ns : usual way from the line to the beam.
    quiet_ns : a pour ends after this long without a part.

    Notes
    -----
    Pulses whose clock is not known stay, except those of runs of the board that ended before one
    in which the recording began, or began after one in which it ended.
    """
    at = captured(pulses, fit.clocks)
    out = _epochs_outside(fit, record, span_ns)
    out_of_run: set[int] = {p.id for p in pulses if p.epoch in out and p.id not in at}
    group: list[int] = []
    placed = sorted(at, key=lambda k: at[k])
    for k, pulse in enumerate(placed):
        group.append(pulse)
        ends = k + 1 == len(placed) or at[placed[k + 1]] - at[pulse] >= quiet_ns
        if ends:
            first, last = at[group[0]] - transit_ns, at[pulse] - transit_ns
            if last < span_ns[0] or first > span_ns[1]:
                out_of_run |= set(group)
            group = []
    return tuple(p for p in pulses if p.id not in out_of_run)


def _epochs_outside(fit: ClockFit, record: BeamRecord, span_ns: tuple[int, int]) -> set[int]:
    found: set[int] = set()
    every = [w.epoch for w in record.watched]
    for clock in fit.clocks:
        for watched in record.watched:
            if watched.epoch != clock.epoch:
                continue
            if watched.start_ns - clock.offset_ns(span_ns[0]) <= span_ns[0]:
                found |= {epoch for epoch in every if epoch < clock.epoch}
            if watched.end_ns - clock.offset_ns(span_ns[1]) >= span_ns[1]:
                found |= {epoch for epoch in every if epoch > clock.epoch}
    return found
