"""Reading a file's header, with its capture-rate tag wherever a camera may have put it."""

import re
from collections.abc import Mapping
from fractions import Fraction

import av
from av.container import InputContainer
from av.video.stream import VideoStream

from viscount.clips.report import Header

# AVFMT_NOTIMESTAMPS: bare streams of pictures; FFmpeg makes times up for them.
_NO_TIMESTAMPS = 0x80
_CAPTURE_KEYS = ("capturefps", "captureframerate", "capturerate")
_NUMBER = re.compile(r"\d+(?:\.\d+)?(?:/\d+)?")
_CLOCK_FACE = re.compile(r"(\d+):(\d+):(\d+(?:\.\d+)?)")


def read_header(
    container: InputContainer, stream: VideoStream, *, width: int, height: int
) -> Header:
    """Return what the file states of its video stream."""
    tag, capture_hz = _capture_rate(container.metadata, stream.metadata)
    rate = stated_rate(stream)
    duration = stated_duration_s(container, stream)
    return Header(
        container=container.format.name.split(",")[0],
        codec=stream.codec_context.name,
        width=width,
        height=height,
        rate_hz=float(rate) if rate else None,
        frames=stream.frames or None,
        duration_s=float(duration) if duration else None,
        capture_tag=tag,
        capture_hz=capture_hz,
        timed=not container.format.flags & _NO_TIMESTAMPS,
    )


def stated_rate(stream: VideoStream) -> Fraction | None:
    """Return the average rate that the header states, or what FFmpeg takes for it."""
    for rate in (stream.average_rate, stream.guessed_rate):
        if rate:
            return exact(rate)
    return None


def stated_duration_s(container: InputContainer, stream: VideoStream) -> Fraction | None:
    """Return the stated time from the first picture to the end of the last.

    The whole file's duration is taken only where there is no other stream: sound may go on
    longer than the pictures.
    """
    if container.format.name == "avi" and stream.frames and stream.time_base:
        # A cut AVI is given a shorter duration, but its header keeps the length in ticks.
        return stream.frames * exact(stream.time_base)
    if stream.duration and stream.time_base:
        return stream.duration * exact(stream.time_base)
    face = _CLOCK_FACE.match(stream.metadata.get("DURATION", ""))
    start_s = Fraction(max(container.start_time or 0, 0), av.time_base)
    if face is not None:
        hours, minutes, seconds = face.groups()
        return int(hours) * 3600 + int(minutes) * 60 + Fraction(seconds) - start_s
    if container.duration and len(container.streams) == 1:
        return Fraction(container.duration, av.time_base) - start_s
    return None


def exact(ratio: Fraction | None) -> Fraction:
    """Return a ratio of PyAV's as a fraction, whatever the version; 0 where it is unset."""
    return Fraction(ratio.numerator, ratio.denominator) if ratio else Fraction(0)


def _capture_rate(*tags: Mapping[str, str]) -> tuple[str | None, float | None]:
    for mapping in tags:
        for key, value in mapping.items():
            plain = re.sub(r"[^a-z]", "", key.lower())
            if any(word in plain for word in _CAPTURE_KEYS):
                number = _NUMBER.search(value)
                rate = _ratio(number.group()) if number else None
                if rate:
                    return key, rate
    return None, None


def _ratio(text: str) -> float | None:
    try:
        return float(Fraction(text))
    except ValueError:  # such as 12.5/3
        return None
    except ZeroDivisionError:
        return None
