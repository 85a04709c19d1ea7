"""The plan's sums against figures from outside."""

from dataclasses import replace

import pytest

from viscount.plan import Drop, Gate, Magazine, Pair, Shot, Steady, answer, cut

G_MM_S2 = 9806.65
"""Standard gravity (3rd CGPM, 1901; scipy.constants.g)."""


@pytest.mark.parametrize(
    ("mm", "ms", "m_s"),
    [
        (50, 100.981, 0.9903),
        (100, 142.809, 1.4005),
        (150, 174.904, 1.7152),
        (200, 201.962, 1.9806),
        (300, 247.352, 2.4257),
        (1000, 451.601, 4.4287),
    ],
)
def test_free_fall_from_rest(mm: float, ms: float, m_s: float) -> None:
    """sqrt(2 h / g) and sqrt(2 g h), calculated with standard gravity."""
    drop = Drop(acceleration_mm_s2=G_MM_S2)
    assert drop.time_s(0.0, mm) * 1e3 == pytest.approx(ms, abs=5e-4)
    assert drop.speed_mm_s(0.0, mm) * 1e-3 == pytest.approx(m_s, abs=5e-5)


def test_a_column_of_sixty() -> None:
    """60 stacked screws empty in about 530 ms (common practice, no source): 8.83 ms on average,
    28.342 ms first, 6.299 ms after thirty, 4.435 ms last (calculated)."""
    column = Magazine(count=60, pitch_mm=5.5, acceleration_mm_s2=2 * 60 * 5.5 / 0.530**2)
    assert column.acceleration_mm_s2 == pytest.approx(2350, abs=1)
    assert column.empty_s == pytest.approx(0.530)
    first, _, last = column.pairs()
    assert first.interval_s * 1e3 == pytest.approx(28.342, abs=5e-4)
    assert last.interval_s * 1e3 == pytest.approx(4.435, abs=5e-4)
    thirtieth = replace(column, count=30).pairs()[-1]
    assert thirtieth.interval_s * 1e3 == pytest.approx(6.299, abs=5e-4)
    assert last.second_mm_s == pytest.approx(1245, abs=1)


@pytest.mark.parametrize(
    ("pitch_mm", "m_s2"),
    [
        (3.0, 1.282),
        (5.5, 2.350),
        (5.68, 2.426),
        (8.0, 3.418),
        (9.0, 3.845),
        (11.0, 4.699),
        (13.0, 5.554),
        (15.0, 6.408),
        (19.0, 8.117),
        (23.0, 9.826),
    ],
)
def test_how_long_columns_take(pitch_mm: float, m_s2: float) -> None:
    """2 n p / T² for 60 M3 socket head screws in 530 ms, by head height, head and end to end
    (calculated; sizes of ISO 4762 as two open tables of fasteners have them)."""
    column = Magazine(count=60, pitch_mm=pitch_mm, acceleration_mm_s2=m_s2 * 1e3)
    assert column.empty_s == pytest.approx(0.530, rel=3e-4)


def test_a_column_in_free_fall() -> None:
    """60 x 5.5 mm at standard gravity: 259.4 ms; then 13.873, 10.645, 8.974, 7.906 ms from part
    to part, and 2.171 ms at the end (calculated)."""
    column = Magazine(count=60, pitch_mm=5.5, acceleration_mm_s2=G_MM_S2)
    assert column.empty_s * 1e3 == pytest.approx(259.4, abs=0.05)
    ends = [replace(column, count=count).pairs()[-1].interval_s for count in (2, 3, 4, 5, 60)]
    assert [end * 1e3 for end in ends] == pytest.approx(
        [13.873, 10.645, 8.974, 7.906, 2.171], abs=5e-4
    )


@pytest.mark.parametrize("below_mm", [0.0, 30.0, 100.0, 300.0])
def test_interval_below_a_column(below_mm: float) -> None:
    """interval(y) = interval(lip) (1 - (a / g) (1 - v_lip / v(y))), to first order in it."""
    column = Magazine(count=60, pitch_mm=5.5, acceleration_mm_s2=2350.0)
    drop = Drop(acceleration_mm_s2=G_MM_S2)
    for pair in column.pairs()[1:]:
        row = drop.row(pair, "x", below_mm, 5.5)
        lip = (pair.first_mm_s + pair.second_mm_s) / 2
        share = 2350.0 / G_MM_S2 * (1 - lip / drop.speed_mm_s(lip, below_mm))
        assert row.interval_s == pytest.approx(pair.interval_s * (1 - share), rel=0.01)


@pytest.mark.parametrize(
    ("dt_ms", "mm", "separation"), [(8.8, 100, 11.944), (8.8, 300, 20.966), (20, 200, 37.650)]
)
def test_two_parts_let_go_from_rest(dt_ms: float, mm: float, separation: float) -> None:
    """g t dt - g dt² / 2 with t the age of the leader, which is then at this depth (calculated)."""
    drop = Drop(acceleration_mm_s2=G_MM_S2)
    age = drop.time_s(0.0, mm)
    later = age - dt_ms * 1e-3
    assert mm - G_MM_S2 * later**2 / 2 == pytest.approx(separation, abs=5e-4)
    # At one place the interval stays what it was.
    pair = Pair(label="two", interval_s=dt_ms * 1e-3, first_mm_s=0.0, second_mm_s=0.0)
    assert drop.row(pair, "x", mm, 1.0).interval_s == pytest.approx(dt_ms * 1e-3)


@pytest.mark.parametrize(
    ("exposure_us", "blur_mm"), [(50, 0.07), (100, 0.14), (200, 0.28), (1000, 1.4), (5000, 7.0)]
)
def test_blur(exposure_us: float, blur_mm: float) -> None:
    """1.4 m/s times the exposure (calculated)."""
    found = answer(
        stream=Steady(interval_s=0.02, lip_mm_s=1400.0),
        drop=Drop(acceleration_mm_s2=0.0),
        length_mm=5.0,
        places_mm={"lip": 0.0, "line": 30.0},
        shot=Shot(exposure_s=exposure_us * 1e-6),
    )
    assert found.camera[0].blur_mm == pytest.approx(blur_mm)


@pytest.mark.parametrize(
    ("fps", "frames", "step_mm"),
    [
        (30, 1.29, 46.67),
        (60, 2.57, 23.33),
        (90, 3.86, 15.56),
        (120, 5.14, 11.67),
        (187, 8.01, 7.49),
    ],
)
def test_frames_in_a_field_of_60_mm(fps: float, frames: float, step_mm: float) -> None:
    """A point at 1.4 m/s: 1.29 to 8.01 frames, 46.67 to 7.49 mm from one to the next."""
    found = answer(
        stream=Steady(interval_s=0.02, lip_mm_s=1400.0),
        drop=Drop(acceleration_mm_s2=0.0),
        length_mm=1e-9,
        places_mm={"lip": 0.0, "line": 30.0},
        shot=Shot(fps=fps, view_mm=(10.0, 70.0)),
    )
    assert found.camera[0].sightings == pytest.approx(frames, abs=5e-3)
    assert found.camera[0].step_mm == pytest.approx(step_mm, abs=5e-3)


@pytest.mark.parametrize(
    ("interval_ms", "gate_ms", "window", "fits"),
    [
        (8.0, (8, 14, 12, 18), (15.52, 8.84), False),
        (12.0, (8, 14, 12, 18), (15.52, 12.84), False),
        (40.0, (8, 14, 12, 18), (15.52, 40.84), True),
        (12.0, (12, 18, 12, 18), (11.52, 12.84), True),
    ],
)
def test_can_the_gate_shut(
    interval_ms: float,
    gate_ms: tuple[float, float, float, float],
    window: tuple[float, float],
    fits: bool,
) -> None:
    """Beam 30 mm above the blade, parts of 8 mm at 1.5 m/s there, g = 9.81 m/s², worked by hand:
    N's tail clears the blade at 23.52 ms, the next head arrives 18.84 ms after the interval."""
    least, most, soon, late = (x * 1e-3 for x in gate_ms)
    found = cut(
        pair="N, N + 1",
        interval_s=interval_ms * 1e-3,
        first_mm_s=1500.0,
        second_mm_s=1500.0,
        beam_to_blade_mm=30.0,
        length_mm=8.0,
        acceleration_mm_s2=9810.0,
        gate=Gate(reach_s=(least, most), shut_s=(soon, late)),
    )
    assert found.clear_s * 1e3 == pytest.approx(23.52, abs=5e-3)
    assert found.arrive_s * 1e3 == pytest.approx(interval_ms + 18.84, abs=5e-3)
    assert found.earliest_s is not None
    assert found.latest_s is not None
    assert (found.earliest_s * 1e3, found.latest_s * 1e3) == pytest.approx(window, abs=5e-3)
    assert found.fits is fits
    least_interval = {8: 14.68, 12: 10.68}[round(gate_ms[0])]
    assert found.least_interval_s is not None
    assert found.least_interval_s * 1e3 == pytest.approx(least_interval, abs=5e-3)


def test_the_readout_keeps_pace() -> None:
    """480 rows over 50 mm read in 16 ms, parts at 2 m/s: 0.64 of the pace; at 14 ms 0.56 (worked
    by hand). 0.6 is where it stops being enough."""
    for readout_s, ratio, enough in ((0.016, 0.64, False), (0.014, 0.56, True)):
        found = answer(
            stream=Steady(interval_s=0.008, lip_mm_s=2000.0),
            drop=Drop(acceleration_mm_s2=0.0),
            length_mm=8.0,
            places_mm={"lip": 0.0, "line": 30.0},
            shot=Shot(scale_px_per_mm=9.6, line_time_s=readout_s / 480),
        )
        assert found.camera[0].readout_ratio == pytest.approx(ratio)
        (need,) = [n for n in found.needs if n.name == "line_time"]
        assert need.enough is enough


@pytest.mark.parametrize(
    ("exposure_ms", "apart"), [(0.1, True), (1.0, True), (2.5, True), (5.0, False), (8.33, False)]
)
def test_exposures_that_smear_parts_together(exposure_ms: float, apart: bool) -> None:
    """Parts of 8 mm every 12 mm at 1.5 m/s: the gap of 4 mm closes at 2.67 ms (worked by hand)."""
    found = answer(
        stream=Steady(interval_s=0.008, lip_mm_s=1500.0),
        drop=Drop(acceleration_mm_s2=0.0),
        length_mm=8.0,
        places_mm={"lip": 0.0, "line": 30.0},
        shot=Shot(exposure_s=exposure_ms * 1e-3),
    )
    (need,) = [n for n in found.needs if n.name == "exposure_apart"]
    assert need.needed == pytest.approx(2667, abs=1)
    assert need.enough is apart
