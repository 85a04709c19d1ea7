"""A check for people, line by line, and for programs as JSON."""

import json
from collections.abc import Iterator

from rich.text import Text

from viscount.checking.check_json import check_json
from viscount.checking.examined import Examined
from viscount.checking.finding import Finding
from viscount.cli.facts import Fact
from viscount.cli.readable import fact_table, plain_lines
from viscount.cli.screen import on_terminal, rendered, shown
from viscount.values import Level, Status

_COLOURS = {Status.CLEAN: "green", Status.DOUBTFUL: "yellow", Status.INVALID: "red"}


def check_json_text(examined: Examined, *, laid_out: bool) -> str:
    """Return a check as one JSON object, on one line or laid out over several."""
    return json.dumps(check_json(examined), allow_nan=False, indent=2 if laid_out else None) + "\n"


def check_text(examined: Examined) -> str:
    """Return a check for people."""
    head = shown(_headline(examined))
    if not on_terminal():
        return "\n".join([head, *plain_lines(check_facts(examined))]) + "\n"
    style = f"bold {_COLOURS[examined.status]}"
    return rendered(Text(head, style=style), Text(), fact_table(check_facts(examined)))


def check_facts(examined: Examined) -> Iterator[Fact]:
    """Yield what a check found, then its figures."""
    for one in examined.findings:
        label = "refused" if one.level is Level.INVALID else "found"
        yield Fact(label=label, text=_said(one), advice=one.remedy)
    yield from _frames(examined)
    yield from _light(examined)
    yield from _picture(examined)
    yield from _parts(examined)
    yield from _readout(examined)
    for one in examined.notes:
        yield Fact(label="note", text=_said(one))
    yield Fact(label="source", text=examined.source)
    if examined.outlet is not None:
        yield Fact(label="outlet", text=examined.outlet.name)


def _headline(examined: Examined) -> str:
    if examined.status is Status.CLEAN:
        return examined.summary
    ends = {
        Status.DOUBTFUL: "costs accuracy",
        Status.INVALID: "makes counting impossible",
    }[examined.status]
    return f"{examined.summary}: {ends}"


def _said(one: Finding) -> str:
    return f"{one.found} (expected: {one.expected})" if one.expected else one.found


def _frames(examined: Examined) -> Iterator[Fact]:
    clock = examined.clock
    text = f"{clock.read} read"
    if clock.rate_hz is not None:
        text += f" at {clock.rate_hz:.5g} a second by their times"
    if clock.header_rate_hz is not None:
        text += f", {clock.header_rate_hz:.5g} by the header"
    if clock.capture_tag_hz is not None:
        text += f", {clock.capture_tag_hz:.5g} at capture by a tag"
    losses = {
        "lost": clock.lost,
        "damaged": clock.damaged,
        "repeated with parts in view": clock.repeated_with_parts,
    }
    some = ", ".join(f"{number} {what}" for what, number in losses.items() if number)
    yield Fact(label="frames", text=f"{text}; {some or 'none lost, damaged or repeated'}")
    if clock.steady is not None and clock.interval_spread_ms is not None:
        steady = "an even clock fits" if clock.steady else "no even clock fits"
        text = f"{steady}; from frame to frame give or take {clock.interval_spread_ms:.3f} ms"
        yield Fact(label="clock", text=text)


def _light(examined: Examined) -> Iterator[Fact]:
    light, steadiness = examined.light, examined.steadiness
    if light.level_grey is not None and light.drift_percent is not None:
        flicker = "no flicker seen"
        if light.flicker_percent is not None and light.flicker_seen_hz is not None:
            flicker = f"flicker {light.flicker_percent:.1f} % at {light.flicker_seen_hz:.2f} Hz"
        text = f"{light.level_grey:.0f} grey behind the parts; {flicker}; drift "
        text += f"{round(light.drift_percent, 1) + 0.0:.1f} %"
        yield Fact(label="light", text=text)
    if steadiness.creep_px_s:
        return
    if steadiness.shake_px is None:
        yield Fact(label="camera", text="too even a background to tell whether it shakes")
    else:
        yield Fact(label="camera", text=f"stands still to {max(steadiness.shake_px, 0.1):.1f} px")


def _picture(examined: Examined) -> Iterator[Fact]:
    picture = examined.picture
    if picture.noise_grey is not None:
        text = f"{picture.noise_grey:.1f} grey a pixel"
        if picture.detectable_grey is not None:
            text += f"; what differs by {picture.detectable_grey:.0f} grey is seen"
        yield Fact(label="noise", text=text)
    if picture.contrast_grey is not None and picture.contrast_sigmas is not None:
        text = f"parts differ by {picture.contrast_grey:.0f} grey, "
        text += f"{picture.contrast_sigmas:.0f} sigma of the noise"
        yield Fact(label="contrast", text=text)
    if picture.blur_px is not None and picture.exposure_us is not None:
        if picture.blur_px < 1:
            text = "less than 1 px at the line"
        else:
            text = f"{picture.blur_px:.1f} px at the line, an exposure of about "
            text += f"{picture.exposure_us / 1e3:.2g} ms"
        if picture.blur_of_gap is not None:
            text += f"; {100 * picture.blur_of_gap:.0f} % of a close gap"
        yield Fact(label="blur", text=text)


def _parts(examined: Examined) -> Iterator[Fact]:
    motion = examined.motion
    text = f"about {motion.parts} passed the line"
    if motion.speed_px_s is not None:
        text += f" at {motion.speed_px_s:.0f} px/s"
    if motion.length_px is not None and motion.width_px is not None:
        text += f"; {motion.length_px:.0f} px long, {motion.width_px:.0f} px wide"
    yield Fact(label="parts", text=text)
    if motion.spacing_px is not None and motion.step_of_spacing is not None:
        text = f"{motion.spacing_px:.0f} px in the middle; parts move {motion.step_of_spacing:.2f} "
        text += "of it from frame to frame"
        yield Fact(label="spacing", text=text)
    if motion.whole_sightings is not None:
        text = f"each part is whole in view in {motion.whole_sightings:.1f} frames"
        yield Fact(label="seen", text=text)


def _readout(examined: Examined) -> Iterator[Fact]:
    readout = examined.readout
    if readout.pace is not None and readout.along_fall:
        text = f"along the fall; speed times line time {readout.pace:.2f}"
        yield Fact(label="readout", text=text)
