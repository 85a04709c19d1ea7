"""How parts leave and fall: laws that hold for every column and every drop."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.plan import Drop, Magazine, Pair, Steady

COLUMNS = st.builds(
    Magazine,
    count=st.integers(2, 200),
    pitch_mm=st.floats(2.0, 30.0),
    acceleration_mm_s2=st.floats(200.0, 7000.0),
)
HEIGHTS = st.floats(0.0, 500.0)


@given(column=COLUMNS, one=HEIGHTS, other=HEIGHTS)
def test_spacing_never_shrinks_downstream(column: Magazine, one: float, other: float) -> None:
    drop = Drop()
    for pair in column.pairs():
        high, low = (drop.row(pair, "x", y, 5.0) for y in sorted((one, other)))
        # Spacing is the second part's speed times the interval, which is right to first order.
        assert low.spacing_mm >= high.spacing_mm * (1 - 1e-3)
        assert low.interval_s <= high.interval_s * (1 + 1e-9)


@given(column=COLUMNS, y=HEIGHTS, length=st.floats(1.0, 30.0))
def test_no_gap_gets_beyond_its_ceiling(column: Magazine, y: float, length: float) -> None:
    drop = Drop()
    for pair in column.pairs():
        touching = drop.row(pair, "x", y, column.pitch_mm)
        # At the lip parts still gain speed while they pass, which the gap leaves out.
        assert touching.gap_s <= drop.gap_ceiling_s(column, pair) * 1.01 + 1e-2 * pair.interval_s


@given(pitch=st.floats(2.0, 30.0), y=st.floats(1.0, 500.0), count=st.integers(2, 50))
def test_a_column_in_free_fall_keeps_its_spacing(pitch: float, y: float, count: int) -> None:
    """With a = g every part has fallen from where it stood: spacing stays the pitch, nearly.

    Exactly: the distance of two neighbours at one moment is one pitch.
    """
    drop = Drop(acceleration_mm_s2=5000.0)
    column = Magazine(count=count, pitch_mm=pitch, acceleration_mm_s2=5000.0)
    for pair in column.pairs():
        row = drop.row(pair, "x", y, 1.0)
        # When the second is at y the first, which fell from a pitch lower, is a pitch below.
        first_s = row.interval_s + drop.time_s(pair.first_mm_s, y)
        fallen = pair.first_mm_s * first_s + 5000.0 * first_s**2 / 2
        assert fallen - y == pytest.approx(pitch, rel=1e-6)


@given(interval=st.floats(0.001, 0.1), speed=st.floats(100.0, 3000.0), y=HEIGHTS)
def test_a_steady_stream_keeps_its_interval(interval: float, speed: float, y: float) -> None:
    (pair,) = Steady(interval_s=interval, lip_mm_s=speed).pairs()
    row = Drop().row(pair, "x", y, 4.0)
    assert row.interval_s == pytest.approx(interval)
    assert row.gap_mm == pytest.approx(row.spacing_mm - 4.0)


def test_pairs_of_small_columns() -> None:
    column = Magazine(count=2, pitch_mm=5.0, acceleration_mm_s2=2000.0)
    assert [pair.label for pair in column.pairs()] == ["1, 2"]
    assert [p.label for p in Magazine(count=60, pitch_mm=5.0, acceleration_mm_s2=1.0).pairs()] == [
        "1, 2",
        "30, 31",
        "59, 60",
    ]


def test_at_rest_on_a_belt_that_stands_nothing_divides_by_zero() -> None:
    pair = Pair(label="any", interval_s=0.01, first_mm_s=0.0, second_mm_s=0.0)
    row = Drop().row(pair, "lip", 0.0, 5.0)
    assert (row.speed_mm_s, row.gap_s, row.gap_mm) == (0.0, 0.0, -5.0)
    assert math.isfinite(row.interval_s)
