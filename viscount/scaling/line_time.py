"""The line time of a source: by bands of light, by its sensor, and as a check by the fall."""

import math
from collections.abc import Iterator, Sequence

from viscount.codes import Code
from viscount.measure.alias import MAINS_LIGHT_HZ
from viscount.measure.line_time.bands import Banded, Wave, bands_line_time
from viscount.measure.line_time.by_fall import line_time_by_fall
from viscount.measure.line_time.estimate import LineBy, LineTime
from viscount.measure.line_time.sensors import sensor_line_time
from viscount.measure.scale.budget import Budget, rectangular
from viscount.measure.scale.gravity import VIEW_OF_DISTANCE
from viscount.outlet import Outlet, Readout
from viscount.scaling.asked import Asked, Ways
from viscount.scaling.clip import Looked
from viscount.values import Falls, Level, Notice


def line_times(seen: Looked, outlet: Outlet, asked: Asked) -> Iterator[LineTime]:
    """Yield what each way says that this source and what is stated allow.

    What the fall shows is only yielded beside another way, or a stated readout, to check it.
    """
    something = outlet.camera.readout is not None or asked.insists(Ways.FALL)
    for one in (_by_sensor(seen, asked), _by_bands(seen, outlet, asked)):
        if one is not None:
            something = True
            yield one
    if something and seen.sized and asked.wants(Ways.FALL):
        share = seen.view_px / seen.picture_px
        tilt = math.sin(math.radians(rectangular(asked.tilt_deg)))
        growth_u = 2.0 * tilt * VIEW_OF_DISTANCE * share
        checked = line_time_by_fall(seen.sized, growth_u=growth_u, source=seen.source)
        if checked is not None:
            yield checked


def _by_sensor(seen: Looked, asked: Asked) -> LineTime | None:
    height, width = seen.geometry.picture
    mode = asked.sensor_mode(height, width) if asked.wants(Ways.SENSOR) else None
    if mode is None:
        return None
    # A phone's or a turned camera's lines are columns of the delivered picture.
    turned = (mode.width > mode.height) != (width >= height)
    return sensor_line_time(mode, width if turned else height)


def unlike_outlet(lines: Sequence[LineTime], seen: Looked, outlet: Outlet) -> Iterator[Notice]:
    """Say where the outlet's own line time is not what is measured: gravity has used it."""
    stated_us, readout = outlet.camera.line_time_us, outlet.camera.readout
    if readout is None or (stated_us is None and readout is not Readout.GLOBAL):
        return
    stated_s = 1e-6 * (stated_us or 0.0)
    for one in lines:
        if one.seconds is None:
            continue
        wanted = seen.geometry.line_time_along_s if one.by is LineBy.FALL else stated_s
        runs = one.readout is None or one.readout.value == readout.value
        half = math.hypot(one.budget.expanded, _STATED_SHARE * stated_s)
        if runs and abs(one.seconds - wanted) <= half:
            continue
        way = f" {readout.value}"
        text = (
            f"the outlet says {1e6 * wanted:.4g} us a line{way} and {one.by} "
            f"{1e6 * one.seconds:.4g} ± {1e6 * one.budget.expanded:.2g}"
            f"{'' if one.readout is None else f' {one.readout.value}'}"
        )
        yield Notice(level=Level.DOUBT, code=Code.LINE_TIMES_DISAGREE, text=text)


_STATED_SHARE = 0.01
"""A stated line time counts as the same within so much."""


def _by_bands(seen: Looked, outlet: Outlet, asked: Asked) -> LineTime | None:
    lines = seen.lines
    if lines is None or not asked.wants(Ways.BANDS):
        return None
    lights = asked.lights_hz or MAINS_LIGHT_HZ
    stated = outlet.camera.readout
    readout = None if stated in (None, Readout.GLOBAL) else Falls(stated.value)
    found = bands_line_time(lines.t_s, lines.rows, lines.columns, lights)
    if found is not None and found.rivals and readout is not None:
        # Where bands alone do not settle it, the stated direction does.
        found = bands_line_time(lines.t_s, lines.rows, lines.columns, lights, readout=readout)
    if found is not None:
        return _told(found, seen.source)
    if not asked.insists(Ways.BANDS):
        return None
    some = " or ".join(f"{hz:g}" for hz in lights)
    text = f"no bands of a light of {some} Hz that drift over the picture"
    return _refused(seen.source, text)


def _told(found: Banded, source: str) -> LineTime:
    wave = found.wave
    what = (
        f"bands of {wave.lines_per_cycle:.4g} {'rows' if wave.vertical else 'columns'} a cycle of "
        f"{wave.light_hz:.2f} Hz, {100 * wave.amplitude:.2g} % deep"
    )
    if found.rivals:
        each = "; ".join(_said(one) for one in (wave, *found.rivals))
        return _refused(source, f"several lights would make such bands: {each}")
    return LineTime(
        by=LineBy.BANDS,
        source=source,
        seconds=abs(wave.line_s),
        budget=found.budget,
        what=what,
        readout=wave.readout,
    )


def _said(wave: Wave) -> str:
    return f"{wave.light_hz:.1f} Hz read {wave.readout} at {1e6 * abs(wave.line_s):.2f} us a line"


def _refused(source: str, text: str) -> LineTime:
    notice = Notice(level=Level.DOUBT, code=Code.LINE_TIME_UNKNOWN, text=text)
    return LineTime(
        by=LineBy.BANDS,
        source=source,
        seconds=None,
        budget=Budget(inputs=()),
        what="nothing",
        notices=(notice,),
    )
