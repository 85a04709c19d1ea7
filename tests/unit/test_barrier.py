"""The law of the light barrier, against a beam that is worked out point by point."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.barrier import BeamLaw
from viscount.errors import UsageError

STEP = 1e-3
SIZES = st.floats(0.2, 12.0)
THRESHOLDS = st.floats(0.1, 0.9)


def dark_stretches(parts: list[tuple[float, float]], width: float, threshold: float) -> np.ndarray:
    """Return the lengths of dark and of light between, of parts (start, end) that move along."""
    place = np.arange(-1.0, max(end for _, end in parts) + width + 1.0, STEP)
    covered = sum(
        np.clip(np.minimum(end, place) - np.maximum(start, place - width), 0.0, None)
        for start, end in parts
    )
    changes = np.flatnonzero(np.diff((covered > threshold * width).astype(int)))
    return np.diff(place[changes])


@given(length=SIZES, width=SIZES, threshold=THRESHOLDS)
def test_the_pulse_of_a_part(length: float, width: float, threshold: float):
    law = BeamLaw(width=width, threshold=threshold)
    stretches = dark_stretches([(0.0, length)], width, threshold)
    if abs(length - threshold * width) < 2 * STEP:
        return
    assert len(stretches) == (law.dark(length) > 0)
    if len(stretches):
        assert law.dark(length) == pytest.approx(stretches[0], abs=4 * STEP)


@given(length=SIZES, clear=SIZES, width=SIZES, threshold=THRESHOLDS)
def test_the_light_between_two_parts(length: float, clear: float, width: float, threshold: float):
    """Parts are at least as long as the beam is wide."""
    length += width
    law = BeamLaw(width=width, threshold=threshold)
    if abs(clear - (1 - threshold) * width) < 2 * STEP:
        return
    parts = [(0.0, length), (length + clear, 2 * length + clear)]
    stretches = dark_stretches(parts, width, threshold)
    assert len(stretches) == (3 if law.light(clear) > 0 else 1)
    if len(stretches) == 3:
        assert law.light(clear) == pytest.approx(stretches[1], abs=4 * STEP)


def test_delays_of_the_sensor():
    """A screw of 16 mm at 1.5 m/s in a beam of 1 mm that answers 20 us and 30 us late."""
    law = BeamLaw(width=1.0, operate_s=20e-6, release_s=30e-6)
    assert law.pulse_s(16.0, 1500.0) == pytest.approx(16 / 1500 + 10e-6)
    assert law.length(law.pulse_s(16.0, 1500.0), 1500.0) == pytest.approx(16.0)
    assert law.clear_s(4.0, 1500.0) == pytest.approx(4 / 1500 - 10e-6)
    # What is over before the sensor answers is not reported.
    slow = BeamLaw(width=1.0, operate_s=2e-3, release_s=3e-3)
    assert slow.pulse_s(2.9, 1500.0) == 0.0
    assert slow.pulse_s(3.1, 1500.0) > 0.0
    assert slow.clear_s(4.4, 1500.0) == 0.0
    assert slow.clear_s(4.6, 1500.0) > 0.0
    assert slow.least_clear(1500.0) == pytest.approx(4.5)


def test_the_least_gap_is_that_of_the_beam_or_of_the_sensor():
    assert BeamLaw(width=4.0).least_clear(2000.0) == 2.0
    assert BeamLaw(width=4.0, threshold=0.25).least_clear(2000.0) == 3.0
    assert BeamLaw(width=0.5, release_s=1e-3).least_clear(2000.0) == 2.0


def test_a_thin_washer_on_edge_in_a_wide_beam_gives_no_pulse():
    assert BeamLaw(width=2.0).dark(0.8) == 0.0
    assert BeamLaw(width=1.5).dark(0.8) == pytest.approx(0.8)
    assert BeamLaw().dark(0.0) == 0.0


@pytest.mark.parametrize(
    ("key", "value"),
    [("threshold", 0.0), ("threshold", 1.0), ("width", -1.0), ("operate_s", float("nan"))],
)
def test_what_is_no_beam_is_refused(key: str, value: float):
    with pytest.raises(UsageError, match="beam"):
        BeamLaw(**{key: value})
