"""The line time by bands of light, at the line times of known sensors."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from viscount.measure.line_time.bands import bands_line_time
from viscount.measure.line_time.sensors import MODES, Mode

Floats = NDArray[np.float64]
MAINS = (100.0, 120.0)
ROLLING = [mode for mode in MODES if not mode.all_at_once]


def light(
    line_s: float,
    lines: int,
    *,
    hz: float,
    fps: float,
    frames: int = 90,
    depth: float = 0.05,
    noise: float = 0.003,
    seed: int = 1,
) -> tuple[Floats, Floats, Floats]:
    """Return times, the light of the lines, and that of lines across them."""
    rng = np.random.default_rng(seed)
    t = np.arange(frames) / fps
    phase = 2 * np.pi * hz * (t[:, None] + line_s * np.arange(lines)) + 0.7
    seen = 1 + depth * np.cos(phase) + noise * rng.normal(size=phase.shape)
    return t, seen, 1 + noise * rng.normal(size=(frames, 64))


def of_mode(mode: Mode) -> tuple[float, int, float]:
    """Return line time, lines and frame rate of a mode, its picture scaled down to 486 lines."""
    lines = min(mode.height, 486)
    line_s = mode.line_s * mode.height / lines
    return line_s, lines, min(0.9 / (line_s * lines), 47.0)


@pytest.mark.parametrize("mode", ROLLING, ids=lambda m: f"{m.sensor}-{m.width}x{m.height}")
@pytest.mark.parametrize("hz", [99.9, 120.06])
def test_within_a_hundredth_at_every_sensor(mode: Mode, hz: float):
    line_s, lines, fps = of_mode(mode)
    found = bands_line_time(*light(line_s, lines, hz=hz, fps=fps), MAINS)
    assert found is not None
    assert found.rivals == ()
    assert found.wave.line_s == pytest.approx(line_s, rel=0.01)
    assert abs(found.wave.line_s - line_s) < found.budget.expanded + 2e-3 * line_s
    assert found.wave.light_hz == pytest.approx(hz, abs=0.05)


def test_pitch_of_the_bands():
    # OV5647 at 31.749 us a row under 100 Hz: 315.0 rows; IMX708 at 26.29 us under 120 Hz: about
    # 317 (a public note on that camera's bands).
    for line_s, hz, pitch in ((31.7488e-6, 100.0, 315.0), (26.2903e-6, 120.0, 317.0)):
        found = bands_line_time(*light(line_s, 480, hz=hz, fps=27.0), MAINS)
        assert found is not None
        assert found.wave.lines_per_cycle == pytest.approx(pitch, rel=2e-3)


@pytest.mark.parametrize(("vertical", "sign"), [(True, 1), (True, -1), (False, 1), (False, -1)])
def test_where_the_lines_run(vertical: bool, sign: int):
    t, lines, plain = light(20e-6, 320, hz=100.0, fps=47.0)
    lines = lines[:, ::sign]
    rows, columns = (lines, plain) if vertical else (plain, lines)
    found = bands_line_time(t, rows, columns, MAINS)
    assert found is not None
    assert found.wave.vertical is vertical
    assert math.copysign(1, found.wave.line_s) == sign
    ways = {(True, 1): "down", (True, -1): "up", (False, 1): "right", (False, -1): "left"}
    assert found.wave.readout.value == ways[vertical, sign]
    assert abs(found.wave.line_s) == pytest.approx(20e-6, rel=0.01)


def test_switched_light_of_known_frequency():
    t = np.arange(120) / 61.3
    phase = (1000.0 * (t[:, None] + 18e-6 * np.arange(300))) % 1.0
    rows = 1 + 0.1 * (phase < 0.5) + 0.002 * np.random.default_rng(1).normal(size=phase.shape)
    found = bands_line_time(t, rows, np.ones((120, 64)), (1000.0,))
    assert found is not None
    assert found.wave.line_s == pytest.approx(18e-6, rel=0.01)


def test_parts_in_front_do_not_matter():
    t, rows, columns = light(20e-6, 320, hz=100.0, fps=47.0)
    rng = np.random.default_rng(4)
    for k in range(90):
        low = int(rng.integers(0, 280))
        rows[k, low : low + 10] *= 0.5
    found = bands_line_time(t, rows, columns, MAINS)
    assert found is not None
    assert found.wave.line_s == pytest.approx(20e-6, rel=0.01)


def test_lines_that_tell_nothing_are_left_out():
    t, rows, columns = light(20e-6, 320, hz=100.0, fps=47.0)
    rows[:, 40:90] = np.nan
    found = bands_line_time(t, rows, columns, MAINS)
    assert found is not None
    assert found.wave.line_s == pytest.approx(20e-6, rel=0.01)


@pytest.mark.parametrize(
    "why", ["steady light", "standing bands", "global shutter", "too short", "another light"]
)
def test_no_line_time(why: str):
    line_s, hz, fps, frames, depth = 20e-6, 100.0, 47.0, 90, 0.05
    if why == "steady light":
        depth = 0.0
    elif why == "standing bands":
        fps = 50.0
    elif why == "global shutter":
        line_s = 0.0
    elif why == "too short":
        frames = 20
    elif why == "another light":
        hz = 111.0
    given = light(line_s, 320, hz=hz, fps=fps, frames=frames, depth=depth)
    assert bands_line_time(*given, MAINS) is None


def test_two_mains_that_look_alike_are_told():
    # At 22 frames a second 100 Hz and 120 Hz both seem 10 Hz (100 - 110, 120 - 110).
    found = bands_line_time(*light(20e-6, 320, hz=100.0, fps=22.0), MAINS)
    assert found is not None
    waves = (found.wave, *found.rivals)
    assert {wave.stated_hz for wave in waves} == {100.0, 120.0}
    right = next(wave for wave in waves if wave.stated_hz == 100.0)
    assert right.line_s == pytest.approx(20e-6, rel=0.01)
