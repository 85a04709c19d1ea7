"""Spacing measured in a simulated clip, beside what the simulator's own paths say."""

from pathlib import Path

import numpy as np
import pytest
from benchmarks.spacing.trial import Trial, tried

from viscount.measure.rhythm import Rhythm
from viscount.simulate.scene import load_scene

SCENES = Path(__file__).parents[2] / "fixtures" / "scenes"
HEIGHTS_MM = (0.0, 30.0, 100.0, 300.0)


@pytest.fixture(scope="module")
def column() -> Trial:
    """Sixty screws that empty in 530 ms (common practice, no source), at 120 frames a second."""
    return tried(load_scene(SCENES / "column-60-120.yaml"), HEIGHTS_MM)


def test_every_value_is_within_one_percent_or_its_uncertainty(column: Trial) -> None:
    assert column.exact
    told = {(one.height, one.quantity) for one in column.compared if one.found.size}
    assert len(told) == 14  # five heights of three, no gap at the lip
    for one in column.compared:
        off = np.abs(one.found - one.true)
        allowed = np.maximum(0.01 * np.abs(one.true), 1.96 * one.sigma)
        share = float(np.mean(off <= allowed)) if off.size else 1.0
        assert share >= 0.98, (one.height, one.quantity)


def test_the_trades_figure_comes_out_of_the_clip(column: Trial) -> None:
    """First interval 28.342 ms, last 4.435 ms, effective acceleration 2.350 m/s² (calculated)."""
    (pour,) = column.spaced.pours
    assert pour.beat.rhythm is Rhythm.COLUMN
    fitted = pour.profile
    assert fitted.k_s * np.sqrt(60) == pytest.approx(0.530, rel=2e-3)
    assert 1e3 * fitted.interval_s(1) == pytest.approx(28.342, rel=2e-3)
    assert 1e3 * fitted.interval_s(59) == pytest.approx(4.435, rel=2e-3)
    assert pour.acceleration.by == "part file"
    assert pour.acceleration.mm_s2 == pytest.approx(2350.0, rel=3e-3)
    # Without that file's pitch times and speeds together tell both.
    assert np.sqrt(fitted.a_p / fitted.a_per_pitch_s2) == pytest.approx(5.5, rel=3e-3)
    assert np.sqrt(fitted.a_p * fitted.a_per_pitch_s2) == pytest.approx(2350.0, rel=3e-3)
    assert pour.faults == ()
