"""Spacing, interval and gap from passages."""

import pytest

from viscount.measure.spacing import spacing_at_line
from viscount.values import Basis, Direction, Passage


def passage(t_ms: float, *, speed: float = 6000.0, length: float | None = 32.0, **more):
    values = {
        "id": 1,
        "t_ns": round(t_ms * 1e6),
        "sigma_ns": 1000,
        "direction": Direction.WITH,
        "basis": Basis.INTERPOLATED,
        "speed_px_s": speed,
        "across_px": 0.0,
        "length_px": length,
        "parts": 1,
        "doubt": 0.0,
        "first_frame": 0,
        "last_frame": 9,
    }
    return Passage(**(values | more))


def test_a_belt_of_boxes():
    # Boxes of 8 mm every 8 ms at 1.5 m/s: 12 mm apart, 4 mm or 2.667 ms clear.
    pour = [passage(8.0 * k) for k in range(6)]
    found = spacing_at_line([pour], 4.0)
    assert found is not None
    assert found.n == 5
    assert found.interval_ms.p50 == pytest.approx(8.0)
    assert found.spacing_mm.p50 == pytest.approx(12.0)
    assert found.gap_ms.min == pytest.approx(8.0 - 8.0 / 1.5)


def test_pours_are_not_joined():
    pours = [[passage(0), passage(10)], [passage(5000), passage(5020)]]
    found = spacing_at_line(pours, None)
    assert found.n == 2
    assert found.interval_ms.max == pytest.approx(20.0)
    assert found.spacing_mm is None


def test_what_goes_up_or_is_not_counted_is_no_neighbour():
    up = passage(4.0, direction=Direction.AGAINST, speed=-100.0)
    none = passage(6.0, parts=0)
    found = spacing_at_line([[passage(0), up, none, passage(10)]], None)
    assert found.n == 1
    assert found.interval_ms.p50 == pytest.approx(10.0)


def test_one_part_has_no_spacing():
    assert spacing_at_line([[passage(0)]], 4.0) is None


def test_no_length_no_gap():
    found = spacing_at_line([[passage(0, length=None), passage(8)]], 4.0)
    assert found.gap_ms is None
    assert found.interval_ms is not None
