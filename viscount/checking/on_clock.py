"""Frames and their times: lost, repeated, damaged, rounded, or under a wrong rate."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from viscount.checking.figures import ClockFigures
from viscount.checking.finding import Finding, doubt, note
from viscount.clips.report import ClipReport
from viscount.codes import Code
from viscount.measure.frame_clock import EXACT_NS, FIT_SHARE, FrameClock
from viscount.measure.time_step import same_rate

_ROUNDED_NS = 100_000.0
"""Coarser rounding than this is worth a note."""

_WHOLE = 0.9
"""A file that counts time in frames rounds nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClockEvidence:
    """What was met: the report, the fitted clock (None where the format stores no times), and
    which frames repeat the picture of the frame before them while parts are in view, or half of
    it.

    `capture_given` says that the outlet file states the rate of capture, `exposure_varies` that
    the camera sets its own exposure: its frames take longer where that does.
    """

    report: ClipReport
    clock: FrameClock | None
    repeated_with_parts: tuple[int, ...]
    torn: tuple[int, ...]
    capture_given: bool
    exposure_varies: bool


def clock_figures(met: ClockEvidence) -> ClockFigures:
    """Return the figures."""
    report, pace = met.report, met.report.pace
    return ClockFigures(
        read=report.read,
        rate_hz=report.rate_hz,
        header_rate_hz=report.header.rate_hz,
        capture_tag_hz=report.header.capture_hz,
        times_step_us=None if met.clock is None else met.clock.tick_ns / 1e3,
        steady=None if met.clock is None else met.clock.steady,
        interval_spread_ms=None if pace is None else pace.spread_ns / 1e6,
        lost=report.lost,
        gaps=len(report.gaps),
        repeated=report.repeated,
        repeated_with_parts=len(met.repeated_with_parts),
        damaged=report.damaged,
    )


def clock_findings(met: ClockEvidence) -> Iterator[Finding]:
    """Yield what there is to say."""
    yield from _frames(met)
    yield from _times(met)
    yield from _rates(met)


def _frames(met: ClockEvidence) -> Iterator[Finding]:
    report = met.report
    if report.damaged:
        found = f"{report.damaged} of {report.read} frames are damaged or could not be decoded"
        yield doubt(Code.FRAMES_DAMAGED, found, "none")
    elif report.incomplete:
        found = f"the recording breaks off after {report.read} frames, or was never finished"
        yield doubt(Code.RECORDING_INCOMPLETE, found, "a recording read to its stated end")
    if report.lost:
        longest = max(report.gaps, key=lambda gap: gap.interval_ns)
        found = (
            f"{report.lost} frames missing in {_number(len(report.gaps), 'gap')}; the longest, "
            f"{longest.interval_ns / 1e6:.1f} ms, is before frame {longest.frame}"
        )
        yield doubt(Code.FRAMES_LOST, found, "none", f"frame {longest.frame}")
    again = met.repeated_with_parts
    if again:
        found = (
            f"{_number(len(again), 'frame')} with parts in view show the picture of the frame "
            f"before, the first is frame {again[0]}"
        )
        yield doubt(Code.FRAMES_REPEATED, found, "a new picture in each", f"frame {again[0]}")

    if met.torn:
        found = (
            f"{_number(len(met.torn), 'frame')} with parts in view show half of the picture of the "
            f"frame before, the first is frame {met.torn[0]}"
        )
        yield doubt(Code.FRAMES_TORN, found, "one picture in each", f"frame {met.torn[0]}")


def _number(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _times(met: ClockEvidence) -> Iterator[Finding]:
    report, clock = met.report, met.clock
    if report.untimed and report.header.timed:
        found = f"the times of {report.untimed} of {report.read} frames had to be estimated"
        yield doubt(Code.FRAMES_UNTIMED, found, "a time for each frame")
    if clock is None or report.pace is None:
        return
    if not clock.steady and clock.raw_ns.size >= 8:
        spread, interval = report.pace.spread_ns / 1e6, report.pace.interval_ns / 1e6
        found = f"from frame to frame {interval:.3f} ms, give or take {spread:.3f} ms"
        say = note if met.exposure_varies else doubt
        yield say(Code.CLOCK_VARIES, found, f"even steps of {interval:.3f} ms")
    elif _late(clock):
        off_ms = float(np.std(clock.raw_ns - clock.true_ns)) / 1e6
        rate_hz = 1e9 / float(np.median(np.diff(clock.true_ns)))
        found = (
            f"times scatter by {off_ms:.2f} ms about an even clock of {rate_hz:.4f} frames a "
            "second, each late by another while"
        )
        yield doubt(Code.TIMES_LATE, found, "times on an even clock")
    elif _ROUNDED_NS < clock.tick_ns < _WHOLE * report.pace.interval_ns:
        found = (
            f"times are rounded to {clock.tick_ns / 1e6:g} ms; an even clock of "
            f"{report.pace.rate_hz:.4f} frames a second fits through them"
        )
        yield note(Code.TIMES_ROUNDED, found)


def _late(clock: FrameClock) -> bool:
    """Return whether times are further from the fitted clock than their rounding explains."""
    off = np.abs(clock.raw_ns - clock.true_ns)
    return clock.steady and float(off.max(initial=0)) > FIT_SHARE * clock.tick_ns + EXACT_NS


def _rates(met: ClockEvidence) -> Iterator[Finding]:
    header, rate_hz = met.report.header, met.report.rate_hz
    if rate_hz is None:
        return
    file_hz = rate_hz * met.report.scale
    stated = header.rate_hz
    if stated is not None and header.timed and not same_rate(stated, file_hz):
        found = f"the header states {stated:.5g} frames a second, their times {file_hz:.5g}"
        yield note(Code.RATE_UNLIKE_HEADER, found)
    if header.capture_hz is None or same_rate(header.capture_hz, rate_hz):
        return
    found = (
        f"the tag {header.capture_tag} states {header.capture_hz:g} frames a second at capture, "
        f"the times used run at {rate_hz:.5g}"
    )
    expected = "a file clock that is real time, or camera.capture_fps in the outlet file"
    say = note if met.capture_given else doubt
    yield say(Code.CAPTURE_RATE_TAG, found, expected)
