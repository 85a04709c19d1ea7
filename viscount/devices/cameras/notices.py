"""What there is to say of a recorded source, from its report."""

from collections.abc import Iterator

from viscount.clips.report import ClipReport
from viscount.codes import Code
from viscount.values import Level, Notice

# A capture-rate tag within this share of the measured rate says nothing new.
_SAME_RATE = 0.02


def clip_notices(report: ClipReport, where: str, *, rate_given: bool) -> tuple[Notice, ...]:
    """Return the notices for `report`.

    Parameters
    ----------
    where : name of the source.
    rate_given : the rate of capture was stated by the user.
    """
    said = (
        *_on_data(report),
        *_on_times(report),
        *_on_rate(report, rate_given=rate_given),
    )
    return tuple(
        Notice(level=level, code=code, text=text, where=where) for level, code, text in said
    )


_Said = Iterator[tuple[Level, Code, str]]


def _on_data(report: ClipReport) -> _Said:
    if report.incomplete:
        yield Level.DOUBT, Code.RECORDING_INCOMPLETE, _end(report)
    if report.damaged:
        text = (
            f"{report.damaged} frames are damaged or could not be decoded; {report.read} were read"
        )
        yield Level.DOUBT, Code.FRAMES_DAMAGED, text
    if report.repeated:
        text = (
            f"{report.repeated} of {report.read} frames show the picture of the frame before "
            f"them, the first is frame {report.repeated_at[0]}"
        )
        yield Level.INFO, Code.FRAMES_REPEATED, text


def _end(report: ClipReport) -> str:
    end_s, stated_s = report.last_t_ns / 1e9, report.header.duration_s
    interval_s = report.pace.interval_ns / 1e9 if report.pace is not None else 0.0
    if stated_s is not None and stated_s * report.scale - end_s > 2 * interval_s:
        return (
            f"the last frame read is at {end_s:.3f} s of a recording that states "
            f"{stated_s * report.scale:.3f} s; {report.read} frames were read"
        )
    return (
        "the recording breaks off, was never finished, or holds data that cannot be decoded; "
        f"{report.read} frames were read"
    )


def _on_times(report: ClipReport) -> _Said:
    if report.lost:
        longest = max(report.gaps, key=lambda gap: gap.interval_ns)
        text = (
            f"{_times(report.lost, 'frame')} missing in {_times(len(report.gaps), 'gap')}; "
            f"the longest, {longest.interval_ns / 1e6:.1f} ms, is before frame {longest.frame}"
        )
        yield Level.INFO, Code.FRAMES_LOST, text
    if report.untimed and report.header.timed:
        text = f"the times of {report.untimed} of {report.read} frames had to be estimated"
        yield Level.DOUBT, Code.FRAMES_UNTIMED, text
    if report.pace is not None and not report.pace.steady:
        text = "the frame times keep no steady pace, so that lost frames cannot be told for sure"
        yield Level.INFO, Code.CLOCK_VARIES, text


def _times(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _on_rate(report: ClipReport, *, rate_given: bool) -> _Said:
    header, rate_hz = report.header, report.rate_hz
    if not header.timed and not rate_given:
        text = (
            f"nothing says when the frames were taken; {header.rate_hz or 0:g} a second are assumed"
        )
        yield Level.INFO, Code.CLOCK_ASSUMED, text
    if header.capture_hz is None or rate_hz is None:
        return
    if abs(header.capture_hz / rate_hz - 1) > _SAME_RATE:
        text = (
            f"the tag {header.capture_tag} states {header.capture_hz:g} frames a second at "
            f"capture; the times used run at {rate_hz:.5g}"
        )
        yield Level.INFO, Code.CAPTURE_RATE_TAG, text
