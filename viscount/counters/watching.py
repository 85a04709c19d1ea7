"""Who watched when: what neither counter could have seen stays a doubt."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from viscount.agreement.arrival import Arrival
from viscount.agreement.clock import ClockLine
from viscount.agreement.watch import Watch, without
from viscount.beam.record import BeamRecord
from viscount.codes import Code
from viscount.tally import Tally
from viscount.values import Pulse

Floats = NDArray[np.float64]

ALWAYS_NS = 2**62
NEGLIGIBLE_NS = 1e6
"""Shorter stretches are the uncertainty of the clocks, and too short for a part besides."""
INTERVALS = 3.0
"""A pour may go on for so many of its own longest recent intervals."""
RECENT = 8


def watch_of(tally: Tally, record: BeamRecord, *, sees: bool) -> Watch:
    """Return who watched when, times from the first frame; `sees` is whether the camera counts."""
    if not sees:
        return Watch(
            blind=((-ALWAYS_NS, ALWAYS_NS),), beam=record.watched, unwatched=record.unwatched
        )
    blind = tuple((round(1e9 * a), round(1e9 * b)) for a, b in tally.frames.blind)
    return Watch(
        camera=(0, end_ns(tally)), blind=blind, beam=record.watched, unwatched=record.unwatched
    )


def end_ns(tally: Tally) -> int:
    """Return the last frame's time, or the best guess of a tally that does not say."""
    frames = tally.frames
    if frames.end_s is not None:
        return round(1e9 * frames.end_s)
    by_rate = frames.read / frames.rate_hz if frames.rate_hz else 0.0
    return max([round(1e9 * by_rate), *(p.passage.t_ns for p in tally.passages)])


def neither_watched(
    tally: Tally, watch: Watch, clocks: Sequence[ClockLine], transit_ns: float, patience_ns: float
) -> Floats:
    """Return the stretches (n, 2) of the capture clock, in ns, that neither counter watched.

    Of the time in which the clip runs; and `patience_ns` beyond, where its pictures begin or end
    with parts on their way.

    Parameters
    ----------
    transit_ns : usual way from the line to the beam.
    """
    codes = {reason.code for reason in tally.camera.reasons}
    before = patience_ns if Code.PARTS_IN_FIRST_FRAME in codes else 0.0
    after = patience_ns if Code.PARTS_IN_LAST_FRAME in codes else 0.0
    span = (-before, end_ns(tally) + after)
    beam = 1e3 * watch.beam_spans_captured_us(clocks, 0) - transit_ns
    open_ = without([span], [(a, b) for a, b in watch.camera_spans()])
    left = without([(a, b) for a, b in open_], [(a, b) for a, b in beam])
    return left[left[:, 1] - left[:, 0] > NEGLIGIBLE_NS]


def end_matters(
    arrivals: Sequence[Arrival], watch: Watch, clock: ClockLine | None, quiet_ns: float
) -> bool:
    """Return whether a log that does not say up to when it is whole leaves a doubt.

    After its last edge the beam is blind. That matters where the camera saw parts come after it,
    or did not watch for as long as the pour may have gone on.
    """
    if clock is None or not arrivals or not watch.beam:
        return True
    last_ns = 1e3 * float(watch.beam_spans_captured_us([clock], 0)[-1, 1])
    margins = [5.0 * np.hypot(a.passage.sigma_ns, a.sigma_ns) for a in arrivals]
    due = np.array([a.due_ns for a in arrivals], dtype=np.float64)
    if np.any((due > last_ns + np.array(margins) + NEGLIGIBLE_NS) & _with_parts(arrivals)):
        return True
    transit = float(np.median([a.transit_ns for a in arrivals]))
    start, end = last_ns - transit, last_ns - transit + patience(due, quiet_ns)
    return not any(low <= start and end <= high for low, high in watch.camera_spans())


def patience(due_ns: Floats, quiet_ns: float) -> float:
    """Return for how long a pour may still go on after its last part, by its last intervals."""
    steps = np.diff(np.sort(due_ns))
    steps = steps[steps < quiet_ns][-RECENT:]
    return float(min(quiet_ns, INTERVALS * steps.max())) if steps.size else quiet_ns


def captured(pulses: Sequence[Pulse], clocks: Sequence[ClockLine]) -> dict[int, int]:
    """Return when pulses began on the capture clock, by their ids; those with a clock only."""
    found: dict[int, int] = {}
    for clock in clocks:
        own = [p for p in pulses if p.epoch == clock.epoch]
        board = np.array([1e-3 * (p.start_ns - clock.board_origin_ns) for p in own])
        at = clock.captured_us(board) if own else board
        for pulse, at_us in zip(own, at, strict=True):
            found[pulse.id] = clock.origin_ns + round(1e3 * float(at_us))
    return found


def _with_parts(arrivals: Sequence[Arrival]) -> NDArray[np.bool_]:
    return np.array([a.passage.parts > 0 for a in arrivals])
