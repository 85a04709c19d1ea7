"""The line time of a source: by bands of light, by its sensor, and as a check by the fall."""

from collections.abc import Iterator

from viscount.codes import Code
from viscount.measure.alias import MAINS_LIGHT_HZ
from viscount.measure.line_time.bands import Banded, Wave, bands_line_time
from viscount.measure.line_time.estimate import LineBy, LineTime
from viscount.measure.line_time.sensors import sensor_line_time
from viscount.measure.scale.budget import Budget
from viscount.outlet import Outlet
from viscount.scaling.asked import Asked, Ways
from viscount.scaling.clip import Looked
from viscount.values import Falls, Level, Notice


def line_times(seen: Looked, outlet: Outlet, asked: Asked) -> Iterator[LineTime]:
    """Yield what each way says that this source and what is stated allow."""
    if asked.wants(Ways.SENSOR):
        height, width = seen.geometry.picture
        mode = asked.sensor_mode(height, width)
        if mode is not None:
            # A phone's or a turned camera's lines are columns of the delivered picture.
            turned = (mode.width > mode.height) != (width >= height)
            yield sensor_line_time(mode, width if turned else height)
    if seen.lines is not None and asked.wants(Ways.BANDS):
        found = _bands(seen, asked)
        if found is not None:
            yield found


def _bands(seen: Looked, asked: Asked) -> LineTime | None:
    lines = seen.lines
    assert lines is not None
    lights = asked.lights_hz or MAINS_LIGHT_HZ
    found = bands_line_time(lines.t_s, lines.rows, lines.columns, lights)
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
        readout=_readout(wave),
    )


def _said(wave: Wave) -> str:
    return f"{wave.light_hz:.1f} Hz read {_readout(wave)} at {1e6 * abs(wave.line_s):.2f} us a line"


def _readout(wave: Wave) -> Falls:
    if wave.vertical:
        return Falls.DOWN if wave.line_s > 0 else Falls.UP
    return Falls.RIGHT if wave.line_s > 0 else Falls.LEFT


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
