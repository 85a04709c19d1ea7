"""Flicker and bands in traces of light made here, by sines of their own."""

import numpy as np
import pytest

from viscount.measure.flicker import Flicker, flicker

LINES = 40


def traces(
    light_hz: float, *, fps: float, line_s: float = 0.0, percent: float = 3.0, n: int = 150
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(5)
    t = np.arange(n) / fps
    delay = np.arange(LINES) * line_s
    wave = percent / 100 * np.sin(2 * np.pi * light_hz * (t[:, None] + delay))
    rows = 1 + wave + rng.normal(0, 5e-4, wave.shape)
    columns = 1 + wave.mean(axis=1, keepdims=True) + rng.normal(0, 5e-4, wave.shape)
    return t, rows, columns


def found(t: np.ndarray, rows: np.ndarray, columns: np.ndarray) -> Flicker:
    seen = flicker(t, rows, columns)
    assert seen is not None
    return seen


@pytest.mark.parametrize(("hz", "fps", "seen_hz"), [(100, 90, 10), (100, 60, 20), (1010, 120, 50)])
def test_a_global_shutter_sees_the_alias(hz: float, fps: float, seen_hz: float):
    seen = found(*traces(hz, fps=fps))
    assert seen.seen_hz == pytest.approx(seen_hz, abs=0.05)
    assert seen.percent == pytest.approx(3.0, rel=0.05)
    assert seen.bands is None


@pytest.mark.parametrize("cells_per_cycle", [3.0, 8.0, 30.0, 100.0])
def test_a_rolling_shutter_shows_bands(cells_per_cycle: float):
    seen = found(*traces(100.0, fps=90.0, line_s=1 / (100.0 * cells_per_cycle)))
    assert seen.bands is not None
    assert seen.bands.vertical
    assert seen.bands.cells_per_cycle == pytest.approx(cells_per_cycle, rel=0.02)
    assert seen.percent == pytest.approx(3.0, rel=0.05)


def test_bands_across_the_picture():
    t, rows, columns = traces(100.0, fps=90.0, line_s=1 / 800.0)
    seen = found(t, columns, rows)
    assert seen.bands is not None
    assert not seen.bands.vertical


@pytest.mark.parametrize(
    "course", [np.zeros(150), np.linspace(0, 0.3, 150), (np.arange(150) == 70) * 0.2]
)
def test_noise_drift_and_one_flash_are_no_flicker(course: np.ndarray):
    rng = np.random.default_rng(6)
    lines = 1 + course[:, None] + rng.normal(0, 1e-3, (150, LINES))
    assert flicker(np.arange(150) / 120.0, lines, lines) is None


def test_lost_frames_do_not_move_it():
    t, rows, columns = traces(100.0, fps=90.0)
    kept = np.setdiff1d(np.arange(150), [30, 31, 32, 77, 101])
    assert found(t[kept], rows[kept], columns[kept]).seen_hz == pytest.approx(10.0, abs=0.05)


def test_lines_that_tell_nothing_are_left_out():
    t, rows, columns = traces(100.0, fps=90.0)
    rows[:, 3] = np.nan
    assert found(t, rows, columns * np.nan).seen_hz == pytest.approx(10.0, abs=0.05)


def test_too_short_to_tell():
    t, rows, columns = traces(100.0, fps=90.0, n=20)
    assert flicker(t, rows, columns) is None
