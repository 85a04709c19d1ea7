"""A rolling shutter's bands and stretch."""

import math

import pytest

from viscount.measure.readout import light_hz, lines_per_cycle, stretch


@pytest.mark.parametrize(
    ("line_time_us", "mains_hz", "rows"),
    # Line lengths and pixel rates of the Linux drivers of OV5647 (VGA), IMX219 and IMX708; the
    # figure of 317 rows for 120 Hz stands in a public repository's note on the IMX708.
    [
        (31.7488, 50, 315.0),
        (31.7488, 60, 262.5),
        (18.9035, 50, 529.0),
        (18.9035, 60, 440.8),
        (26.2903, 50, 380.4),
        (26.2903, 60, 317.0),
    ],
)
def test_pitch_of_mains_bands(line_time_us: float, mains_hz: float, rows: float):
    assert lines_per_cycle(2 * mains_hz, line_time_us * 1e-6) == pytest.approx(rows, abs=0.1)
    assert light_hz(rows, line_time_us * 1e-6) == pytest.approx(2 * mains_hz, rel=1e-3)


@pytest.mark.parametrize(
    ("speed_px_s", "times"),
    # Calculated: 1 / (1 - v t) for the OV5647's 31.749 us a row.
    [(2000.0, 1.06780), (5000.0, 1.18870), (-5000.0, 0.86300)],
)
def test_stretch_along_the_readout(speed_px_s: float, times: float):
    assert stretch(speed_px_s, 31.749e-6) == pytest.approx(times, abs=2e-5)


def test_a_part_that_keeps_pace_has_no_end():
    assert math.isinf(stretch(10_000.0, 100e-6))
