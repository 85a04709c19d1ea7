"""What the beam sees."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from viscount.plan import Beam, BeamRow, Drop, Steady
from viscount.plan.barrier import beam_row

SPEED_MM_S = 1500.0


def seen(beam: Beam, *, length_mm: float, spacing_mm: float) -> BeamRow:
    (pair,) = Steady(interval_s=spacing_mm / SPEED_MM_S, lip_mm_s=SPEED_MM_S).pairs()
    at = Drop(acceleration_mm_s2=0.0).row(pair, "beam", 20.0, length_mm)
    return beam_row(beam, at, length_mm)


@given(
    width=st.floats(0.5, 6.0),
    threshold=st.floats(0.1, 0.9),
    length=st.floats(1.0, 12.0),
    gap=st.floats(0.1, 12.0),
)
def test_against_light_added_up(width: float, threshold: float, length: float, gap: float) -> None:
    """The share of the light that two parts cover, sampled every 2 µm of their way."""
    # Where the beam only just switches, the steps on the way decide.
    assume(abs(length - threshold * width) > 0.01)
    assume(abs(gap - (1 - threshold) * width) > 0.01)
    row = seen(Beam(width_mm=width, threshold=threshold), length_mm=length, spacing_mm=length + gap)
    assert row.dark_s is not None
    assert row.clear_s is not None
    step = 0.002
    way = np.arange(-1.0, 2 * length + gap + width + 1.0, step)
    covered = np.zeros_like(way)
    for head in (0.0, length + gap):
        low, high = np.maximum(way - width, head), np.minimum(way, head + length)
        covered += np.maximum(high - low, 0.0)
    dark = covered > threshold * width
    edges = np.flatnonzero(np.diff(dark.astype(np.int8)))
    if length < threshold * width:
        assert row.dark_s == 0.0
        return
    assert row.dark_s > 0.0
    if row.clear_s == 0.0:
        assert len(edges) == 2
        return
    assert len(edges) == 4
    first, clear, _ = np.diff(edges) * step / SPEED_MM_S
    assert row.dark_s == pytest.approx(first, abs=2 * step / SPEED_MM_S)
    assert row.clear_s == pytest.approx(clear, abs=2 * step / SPEED_MM_S)


def test_half_of_the_light_asks_for_no_width() -> None:
    row = seen(Beam(), length_mm=8.0, spacing_mm=12.0)
    assert row.dark_s == pytest.approx(8 / 1500)
    assert row.clear_s == pytest.approx(4 / 1500)


def test_any_other_share_does() -> None:
    row = seen(Beam(threshold=0.3), length_mm=8.0, spacing_mm=12.0)
    assert (row.dark_s, row.clear_s) == (None, None)


def test_the_widest_beam() -> None:
    """Two parts are one pulse from there on; or one part is none, where that comes first."""
    assert Beam(threshold=0.2).widest_mm(4.0, 8.0) == pytest.approx(5.0)
    assert Beam(threshold=0.8).widest_mm(4.0, 8.0) == pytest.approx(10.0)
    assert Beam().widest_mm(-1.0, 8.0) == 0.0
