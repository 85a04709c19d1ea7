"""Flicker, steps and drift of the light."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from viscount.checking.figures import LightFigures
from viscount.checking.finding import Finding, doubt, note
from viscount.checking.scenery import Scenery
from viscount.codes import Code
from viscount.measure.alias import mains_candidates, possible_hz
from viscount.measure.cells import cell_px
from viscount.measure.flicker import Flicker, flicker
from viscount.measure.light_course import LightCourse, light_course
from viscount.measure.readout import light_hz, lines_per_cycle

FLICKER_PERCENT = 1.0
"""Amplitude from which on flicker costs accuracy."""

DRIFT_PERCENT, DRIFT_PERCENT_PER_S = 4.0, 1.0
"""Drift over the clip, and in a second, from which on it costs accuracy."""

_MAINS_OFF_HZ = 0.5
"""By so much twice the mains' frequency may be off (0.2 Hz of the mains and a camera's clock)."""

_UP_TO_HZ = 1500.0
_BANDS_OFF = 0.15
"""Share by which the pitch of bands may be off."""

Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LightEvidence:
    """The course of the light and its flicker; what frequency the lamp may have.

    Attributes
    ----------
    lines_per_cycle : pitch of the bands in lines of the picture, None without bands.
    lamp_hz : the lamp's frequencies that explain what is seen.
    certain : that of `lamp_hz` is the one, not an alias.
    mains : whether the mains explain it.
    """

    level: float
    frames_hz: float
    course: LightCourse
    flicker: Flicker | None
    vertical: bool
    lines_per_cycle: float | None
    lamp_hz: tuple[float, ...]
    certain: bool
    mains: bool


def light_evidence(
    scenery: Scenery, frames_hz: float | None, line_time_s: float | None
) -> LightEvidence | None:
    """Return what the light did, or None where the picture is too dark or too short to tell.

    Parameters
    ----------
    frames_hz : rate of the frames.
    line_time_s : time from line to line of a rolling shutter; None where unknown.
    """
    t_s, light = scenery.light["t_s"], scenery.light["whole"]
    if t_s.size < 2 or not scenery.cells.tells or frames_hz is None:
        return None
    course = light_course(t_s, light)
    n = len(scenery.rows)
    steps = course.factor[:n, None]
    seen = flicker(
        t_s[:n],
        np.asarray(scenery.rows, dtype=np.float64) / steps,
        np.asarray(scenery.columns, dtype=np.float64) / steps,
    )
    pitch, vertical = None, False
    if seen is not None and seen.bands is not None:
        vertical = seen.bands.vertical
        pitch = seen.bands.cells_per_cycle * cell_px(scenery.level.shape[0 if vertical else 1])
    lamp, certain, mains = _lamp(seen, frames_hz, pitch, line_time_s)
    return LightEvidence(
        level=scenery.cells.level,
        frames_hz=frames_hz,
        course=course,
        flicker=seen,
        vertical=vertical,
        lines_per_cycle=pitch,
        lamp_hz=lamp,
        certain=certain,
        mains=mains,
    )


def _lamp(
    seen: Flicker | None, frames_hz: float, pitch: float | None, line_time_s: float | None
) -> tuple[tuple[float, ...], bool, bool]:
    """Return which frequencies explain the flicker, whether one is certain, and is the mains'."""
    if seen is None:
        return (), False, False
    tolerance = max(seen.resolution_hz / 2, _MAINS_OFF_HZ)
    mains = mains_candidates(seen.seen_hz, frames_hz, tolerance)
    if pitch is None or not line_time_s:
        return (mains, False, True) if mains else (_some_of(seen.seen_hz, frames_hz), False, False)
    # The bands give the frequency itself, roughly; the frames make it sharp.
    rough = light_hz(pitch, line_time_s)
    near = min(
        possible_hz(seen.seen_hz, frames_hz, 2 * rough + frames_hz), key=lambda f: abs(f - rough)
    )
    lamp = near if abs(near / rough - 1) <= _BANDS_OFF else rough
    of_mains = [hz for hz in mains if abs(hz - lamp) <= max(tolerance, _MAINS_OFF_HZ)]
    return (of_mains[0] if of_mains else lamp,), True, bool(of_mains)


def _some_of(seen_hz: float, frames_hz: float) -> tuple[float, ...]:
    return tuple(possible_hz(seen_hz, frames_hz, _UP_TO_HZ))


def light_figures(met: LightEvidence | None) -> LightFigures:
    """Return the figures."""
    seen = None if met is None else met.flicker
    return LightFigures(
        level_grey=None if met is None else met.level,
        flicker_percent=None if seen is None else seen.percent,
        flicker_seen_hz=None if seen is None else seen.seen_hz,
        light_hz=() if met is None else met.lamp_hz,
        light_hz_certain=met is not None and met.certain,
        rows_per_cycle=None if met is None else met.lines_per_cycle,
        steps_percent=() if met is None else tuple(s.percent for s in met.course.steps),
        drift_percent_per_s=None if met is None else met.course.percent_per_s,
        drift_percent=None if met is None else met.course.drift_percent,
    )


def light_findings(met: LightEvidence | None) -> Iterator[Finding]:
    """Yield what there is to say."""
    if met is None:
        return
    if met.flicker is not None:
        say = doubt if met.flicker.percent >= FLICKER_PERCENT else note
        code = Code.LIGHT_FLICKERS if met.mains else Code.LIGHT_PULSED
        expected = f"less than {FLICKER_PERCENT:g} %"
        yield say(code, _flicker_text(met, met.flicker), expected)
    if met.course.steps:
        most = max(met.course.steps, key=lambda step: abs(step.percent))
        found = f"the light changes by {most.percent:+.1f} % within {met.course.step_s:.2f} s, "
        found += f"before frame {most.frame}"
        if met.course.made_up_for:
            found += ", and goes back by degrees, as where a camera sets its own exposure"
        elif len(met.course.steps) > 1:
            found += f", and {len(met.course.steps) - 1} times more by less"
        yield doubt(Code.LIGHT_CHANGED, found, "steady light", f"frame {most.frame}")
    rate, drift = met.course.percent_per_s, met.course.drift_percent
    drifts = abs(rate) >= DRIFT_PERCENT_PER_S and abs(drift) >= DRIFT_PERCENT
    if drifts and not met.course.made_up_for:
        found = f"the light changes by {rate:+.2f} % a second, {drift:+.1f} % over the clip"
        expected = f"less than {DRIFT_PERCENT_PER_S:g} % a second"
        yield doubt(Code.LIGHT_DRIFTS, found, expected)


def _flicker_text(met: LightEvidence, seen: Flicker) -> str:
    text = f"{seen.percent:.1f} % up and down"
    if met.lines_per_cycle is not None:
        lines = "rows" if met.vertical else "columns"
        text += (
            f" in bands of {met.lines_per_cycle:.0f} {lines} a cycle, as a rolling shutter "
            f"makes them, moving at {seen.seen_hz:.2f} Hz"
        )
    else:
        text += f" at {seen.seen_hz:.2f} Hz over the whole picture"
    if met.certain:
        return f"{text}; the light itself flickers at {met.lamp_hz[0]:.1f} Hz, which is certain"
    if met.mains:
        lamps = " or ".join(
            f"{hz:g} Hz ({hz / 2:g} Hz mains{_line_time(met, hz)})" for hz in met.lamp_hz
        )
        return (
            f"{text}; that is an alias, of {lamps} if the lamp is on the mains; other "
            f"frequencies {met.frames_hz:.5g} Hz apart would look the same"
        )
    some = ", ".join(f"{hz:.1f}" for hz in met.lamp_hz[:6])
    return (
        f"{text}; no light on the mains (100 or 120 Hz) looks like that; that is an alias, of "
        f"{some} Hz, or so on every {met.frames_hz:.5g} Hz"
    )


def _line_time(met: LightEvidence, hz: float) -> str:
    if met.lines_per_cycle is None:
        return ""
    # One equation for pitch, frequency and line time: each follows from the other two.
    return f", then {1e6 * lines_per_cycle(hz, 1.0) / met.lines_per_cycle:.1f} us a line"
