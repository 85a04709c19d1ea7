"""Whether a beam is in order, by its own pulses and by what the camera saw pass.

All dark or all light for long is a fact; a fault it is only where parts passed meanwhile.
"""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from viscount.beam.record import BeamRecord
from viscount.beam.wording import counted
from viscount.codes import Code
from viscount.values import Level, Notice, Pulse

Times = NDArray[np.int64]
_Said = Iterator[tuple[Level, Code, str]]

STUCK_ALL, STUCK = 3, 5
"""So many parts that all pass unnoticed, or so many in a row, are no chance: where a beam misses
one part of six, five in a row come once in ten thousand parts."""
STUCK_LENGTHS = 10.0
"""A pulse of so many usual lengths is no clump."""
FEWEST = 20
"""With fewer pulses nothing is said of their lengths."""
SAME_WIDTH = 0.005
"""Pulses of falling parts differ by more than this share: speeds and tilts do."""
FLOOR_SHARE = 0.3
"""So many pulses at the very least width were brought there by the sensor."""
STRETCHED = 1.3
"""A pulse this many times as long as a part can make was stretched."""
CHATTERS = 0.1
"""So many spikes for each edge are chatter."""
BRIEF, BRIEF_SHARE = 0.1, 0.1
"""So many pulses of less than this share of the usual length are chatter that was not taken out."""


def beam_health(
    pulses: Sequence[Pulse],
    record: BeamRecord,
    *,
    passages: Mapping[int, Sequence[int]] | int | None = None,
    expected_ns: float | None = None,
) -> tuple[Notice, ...]:
    """Return what is wrong with the beam.

    Parameters
    ----------
    pulses, record : all pulses of a log, and its record.
    passages : when the camera's parts passed the beam, in ns on the board's clock, by epoch; or
        only how many passed while it was watched; None where no camera counted.
    expected_ns : the longest pulse that a single part should give (`BeamLaw.pulse_s`).
    """
    said = (
        *_stuck(pulses, record, passages),
        *_slow(pulses, expected_ns),
        *_chatter(pulses, record),
    )
    return tuple(Notice(level=level, code=code, text=text) for level, code, text in said)


def _stuck(
    pulses: Sequence[Pulse],
    record: BeamRecord,
    passages: Mapping[int, Sequence[int]] | int | None,
) -> _Said:
    if passages is None:
        return
    if isinstance(passages, int):
        yield from _stuck_by_number(pulses, record, passages)
        return
    usual_ns = float(np.median(_lengths(pulses))) if pulses else 0.0
    for watched in record.watched:
        times = np.sort(np.array(passages.get(watched.epoch, ()), dtype=np.int64))
        times = times[(times >= watched.start_ns) & (times <= watched.end_ns)]
        own = [p for p in pulses if p.epoch == watched.epoch]
        blind = [(g.start_ns, g.end_ns) for g in record.unwatched if g.epoch == watched.epoch]
        least = STUCK if own else STUCK_ALL
        for start_ns, end_ns in _light(own, blind, watched.start_ns, watched.end_ns):
            missed = _between(times, start_ns, end_ns)
            if missed >= least:
                yield Level.DOUBT, Code.BEAM_STUCK_OPEN, _place(missed, "light", start_ns, end_ns)
        for pulse in own:
            hidden = _between(times, pulse.start_ns, pulse.end_ns)
            long = pulse.cut or pulse.end_ns - pulse.start_ns > STUCK_LENGTHS * usual_ns
            if hidden >= STUCK and long:
                text = _place(hidden, "blocked", pulse.start_ns, pulse.end_ns)
                yield Level.DOUBT, Code.BEAM_STUCK_BLOCKED, text


def _stuck_by_number(pulses: Sequence[Pulse], record: BeamRecord, passages: int) -> _Said:
    if passages < STUCK_ALL:
        return
    watched_ns = sum(w.end_ns - w.start_ns for w in record.watched)
    dark_ns = int(_lengths(pulses).sum())
    if not pulses and not record.unwatched:
        text = f"the beam stays light while the camera counts {counted(passages, 'part')}"
        yield Level.DOUBT, Code.BEAM_STUCK_OPEN, text
    elif len(pulses) * STUCK_ALL < passages and dark_ns > 0.9 * watched_ns:
        text = f"the beam stays blocked while the camera counts {counted(passages, 'part')}"
        yield Level.DOUBT, Code.BEAM_STUCK_BLOCKED, text


def _light(
    pulses: Sequence[Pulse], blind: Sequence[tuple[int, int]], start_ns: int, end_ns: int
) -> Iterator[tuple[int, int]]:
    """Yield the stretches in which the beam is known to be light."""
    known = start_ns
    for begin, end in sorted([*((p.start_ns, p.end_ns) for p in pulses), *blind]):
        if begin > known:
            yield known, begin
        known = max(known, end)
    if end_ns > known:
        yield known, end_ns


def _slow(pulses: Sequence[Pulse], expected_ns: float | None) -> _Said:
    """Tell a one-shot: pulses pile up at one least width, or are longer than parts can make."""
    lengths = np.sort(_lengths([p for p in pulses if not (p.cut or p.lost_edges)]))
    if len(lengths) < FEWEST:
        return
    least_ms = float(lengths[0]) * 1e-6
    # Some hundredths below the pile: its own scatter, and a clock's steps.
    piled = np.mean(lengths <= lengths[0] * (1.0 + SAME_WIDTH))
    said = f"{100 * piled:.0f} % of the pulses last {least_ms:.3g} ms, none less"
    if piled < FLOOR_SHARE:
        return
    if expected_ns is not None and lengths[0] > STRETCHED * expected_ns:
        text = f"{said}; a part should last {expected_ns * 1e-6:.3g} ms: a one-shot stretches them"
        yield Level.DOUBT, Code.BEAM_SENSOR_SLOW, text
    elif expected_ns is None:
        text = f"{said}: a sensor with a one-shot or a least output width does so"
        yield Level.INFO, Code.BEAM_SENSOR_SLOW, text


def _chatter(pulses: Sequence[Pulse], record: BeamRecord) -> _Said:
    lengths = _lengths([p for p in pulses if not (p.cut or p.lost_edges)])
    if len(lengths) >= FEWEST:
        brief = np.mean(lengths < BRIEF * np.quantile(lengths, 0.75))
        if brief > BRIEF_SHARE:
            text = (
                f"{100 * brief:.0f} % of the pulses are less than a tenth as long as the usual "
                f"ones, which last {np.quantile(lengths, 0.75) * 1e-6:.3g} ms"
            )
            yield Level.DOUBT, Code.BEAM_CHATTERS, text
    if record.edges and record.spikes > CHATTERS * record.edges:
        text = f"{counted(record.spikes, 'spike')} taken out of {record.edges} edges"
        yield Level.INFO, Code.BEAM_CHATTERS, text


def _lengths(pulses: Sequence[Pulse]) -> Times:
    return np.array([p.end_ns - p.start_ns for p in pulses], dtype=np.int64)


def _between(times: Times, start_ns: int, end_ns: int) -> int:
    low, high = np.searchsorted(times, [start_ns, end_ns])
    return int(high - low)


def _place(parts: int, level: str, start_ns: int, end_ns: int) -> str:
    return (
        f"the beam stays {level} from {start_ns * 1e-9:.3f} s to {end_ns * 1e-9:.3f} s, while the "
        f"camera counts {counted(parts, 'part')}"
    )
