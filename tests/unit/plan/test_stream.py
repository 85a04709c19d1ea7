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
        assert low.spacing_mm >= high.spacing_mm * (1 - 1e-9)
        assert low.interval_s <= high.interval_s * (1 + 1e-9)


@given(column=COLUMNS, y=HEIGHTS, share=st.floats(0.01, 1.5))
def test_no_gap_gets_beyond_its_ceiling(column: Magazine, y: float, share: float) -> None:
    """However the parts stand in the column: touching, apart or nested."""
    drop, length = Drop(), share * column.pitch_mm
    for pair in column.pairs():
        ceiling = drop.gap_ceiling_s(column, pair, length)
        assert drop.row(pair, "x", y, length).gap_s <= ceiling * (1 + 1e-9) + 1e-12


@given(column=COLUMNS)
def test_the_ceiling_of_a_touching_column(column: Magazine) -> None:
    """Interval at the lip times (1 - a / g), which a very deep fall comes close to."""
    drop = Drop()
    for pair in column.pairs():
        ceiling = drop.gap_ceiling_s(column, pair, column.pitch_mm)
        share = 1 - column.acceleration_mm_s2 / 9806.65
        assert ceiling == pytest.approx(pair.interval_s * share)
        deep = drop.row(pair, "x", 1e12, column.pitch_mm)
        assert deep.gap_s == pytest.approx(ceiling, rel=1e-2)


@given(column=COLUMNS, y=HEIGHTS)
def test_a_touching_column_has_no_gap_at_the_lip(column: Magazine, y: float) -> None:
    """And below it what p a / g + v interval(lip) (1 - a / g) leaves of the pitch."""
    drop, share = Drop(), column.acceleration_mm_s2 / 9806.65
    for pair in column.pairs():
        lip = drop.row(pair, "lip", 0.0, column.pitch_mm)
        assert lip.gap_mm == pytest.approx(0.0, abs=1e-9 * column.pitch_mm)
        below = drop.row(pair, "x", y, column.pitch_mm)
        spacing = column.pitch_mm * share + below.speed_mm_s * pair.interval_s * (1 - share)
        assert below.spacing_mm == pytest.approx(spacing, rel=1e-9)


@given(pitch=st.floats(2.0, 30.0), y=st.floats(1.0, 500.0), count=st.integers(2, 50))
def test_a_column_in_free_fall_keeps_its_spacing(pitch: float, y: float, count: int) -> None:
    """With a = g every part has fallen from where it stood: spacing stays the pitch.

    And so does the distance of two neighbours at one moment.
    """
    drop = Drop(acceleration_mm_s2=5000.0)
    column = Magazine(count=count, pitch_mm=pitch, acceleration_mm_s2=5000.0)
    for pair in column.pairs():
        row = drop.row(pair, "x", y, 1.0)
        assert row.spacing_mm == pytest.approx(pitch, rel=1e-9)
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
    assert (row.speed_mm_s, row.gap_s, row.gap_mm) == (0.0, None, -5.0)
    assert math.isfinite(row.interval_s)
