"""The integrated paths of the simulator against closed forms and figures from outside.

Where a docstring says "calculated", the figures are the closed form's, worked out apart from
this project with standard gravity.
"""

import numpy as np
import pytest
from scipy import constants

from viscount.simulate.physics import Paths, paths
from viscount.simulate.scene import (
    G_MM_S2,
    Ball,
    Bounce,
    Column,
    Cycle,
    FreeFall,
    Gate,
    Release,
    Scene,
    Slide,
    Stuck,
    Times,
)

G = 9806.65
ONE = Times(times_ms=(0.0,))


def integrate(release: Release = ONE, until_mm: float = 400.0, **more: object) -> Paths:
    ball = Ball(diameter_mm=4.0)
    return paths(Scene(parts=(ball,), release=release, lead_in_s=0.0, **more), until_mm)


def test_standard_gravity() -> None:
    """scipy.constants.g; CGPM 1901."""
    assert G_MM_S2 / 1e3 == constants.g == G / 1e3


def test_fall_from_rest() -> None:
    """Heights, times and speeds: sqrt(2h/g), sqrt(2gh), calculated."""
    found = integrate(until_mm=1100.0)
    for height_mm, t_ms, speed_m_s in [
        (50, 100.981, 0.9903),
        (100, 142.809, 1.4005),
        (150, 174.904, 1.7152),
        (200, 201.962, 1.9806),
        (250, 225.800, 2.2143),
        (300, 247.352, 2.4257),
        (500, 319.330, 3.1316),
        (1000, 451.601, 4.4287),
    ]:
        t = found.arrival(float(height_mm))
        assert t[0] * 1e3 == pytest.approx(t_ms, abs=6e-4)
        assert found.along(0, t)[1][0] / 1e3 == pytest.approx(speed_m_s, abs=6e-5)


def test_fall_of_a_school_lesson() -> None:
    """A school lesson on free fall (engineering_physics, ep2, page 37) with g = 9.8 m/s²."""
    found = integrate(until_mm=320e3, motion=FreeFall(gravity_mm_s2=9800.0))
    place, speed = found.along(0, np.array([1.0, 2.0, 5.0, 6.0, 8.0]))
    assert place[:3] / 1e3 == pytest.approx([4.9, 19.6, 122.5], rel=1e-9)
    assert speed[3:] / 1e3 == pytest.approx([58.8, 78.4], rel=1e-9)


@pytest.mark.parametrize(
    ("speed_mm_s", "times_ms"),
    [
        (0.0, [100.981, 142.809, 174.904, 201.962, 225.800, 247.352, 267.171, 285.617]),
        (500.0, [62.137, 100.652, 131.198, 157.313, 180.499, 201.566, 221.006, 239.147]),
    ],
)
def test_picket_fence(speed_mm_s: float, times_ms: list[float]) -> None:
    """Eight bars 5 cm apart, t = (-v0 + sqrt(v0² + 2gx)) / g, calculated."""
    found = integrate(until_mm=410.0, lip_speed_mm_s=speed_mm_s)
    times = [found.arrival(50.0 * bar)[0] * 1e3 for bar in range(1, 9)]
    assert times == pytest.approx(times_ms, abs=6e-4)


@pytest.mark.parametrize(
    ("dt_ms", "separations_mm"),
    [
        (8.8, (11.944, 17.049, 20.966)),
        (4.4, (6.067, 8.620, 10.578)),
        (20.0, (26.048, 37.650, 46.553)),
    ],
)
def test_separation_grows_but_the_interval_stays(
    dt_ms: float, separations_mm: tuple[float, ...]
) -> None:
    """Two parts released dt apart from rest are g t dt - g dt²/2 apart, calculated."""
    found = integrate(Times(times_ms=(0.0, dt_ms)))
    for leader_mm, separation in zip((100.0, 200.0, 300.0), separations_mm, strict=True):
        t = found.arrival(leader_mm)
        behind = found.along(1, t[:1])[0][0]
        assert leader_mm - behind == pytest.approx(separation, abs=6e-4)
        assert (t[1] - t[0]) * 1e3 == pytest.approx(dt_ms, abs=1e-6)


def test_column_empties_as_the_trade_figure_says() -> None:
    """60 stacked parts in 530 ms: common practice, no source; t_k = T sqrt(k/n), calculated."""
    a = 2 * 60 * 5.5 / 0.530**2
    assert a == pytest.approx(2350, abs=1)
    found = integrate(Column(count=60, pitch_mm=5.5, acceleration_mm_s2=a), until_mm=10.0)
    lip_ms = found.lip_s * 1e3
    gaps = np.diff(lip_ms)
    assert lip_ms[-1] == pytest.approx(530.0, abs=1e-3)
    assert lip_ms[0] == pytest.approx(68.423, abs=1e-3)
    assert gaps[0] == pytest.approx(28.342, abs=1e-3)
    assert gaps[28] == pytest.approx(6.299, abs=1e-3)
    assert gaps[-1] == pytest.approx(4.435, abs=1e-3)
    assert found.lip_speed_mm_s[-1] / 1e3 == pytest.approx(1.245, abs=6e-4)


@pytest.mark.parametrize(
    ("pitch_mm", "a_m_s2"),
    [(3.0, 1.282), (5.5, 2.350), (5.68, 2.426), (8.0, 3.418), (13.0, 5.554), (23.0, 9.826)],
)
def test_acceleration_of_a_column_from_its_pitch(pitch_mm: float, a_m_s2: float) -> None:
    """a = 2 n p / T² for 60 parts in 530 ms, calculated."""
    column = Column(count=60, pitch_mm=pitch_mm, acceleration_mm_s2=a_m_s2 * 1e3)
    assert integrate(column, until_mm=10.0).lip_s[-1] == pytest.approx(0.530, rel=2e-4)


@pytest.mark.parametrize(("pitch_mm", "incline_deg"), [(5.5, 13.9), (11.0, 28.6)])
def test_a_frictionless_incline_is_such_a_column(pitch_mm: float, incline_deg: float) -> None:
    """asin(a/g), calculated to a tenth of a degree."""
    slide = Slide(incline_deg=incline_deg)
    t = integrate(until_mm=60 * pitch_mm + 1, motion=slide).arrival(60 * pitch_mm)
    assert t[0] == pytest.approx(0.530, rel=0.004)


def test_column_in_free_fall() -> None:
    """60 x 5.5 mm at standard gravity: 259.4 ms, calculated; and the spacing stays the pitch."""
    column = Column(count=60, pitch_mm=5.5, acceleration_mm_s2=G)
    found = integrate(column, until_mm=700.0)
    gaps = np.diff(found.lip_s) * 1e3
    assert found.lip_s[-1] * 1e3 == pytest.approx(259.4, abs=0.05)
    assert found.lip_s[0] * 1e3 == pytest.approx(33.492, abs=6e-4)
    assert gaps[:4] == pytest.approx([13.873, 10.645, 8.974, 7.906], abs=6e-4)
    assert gaps[-1] == pytest.approx(2.171, abs=6e-4)
    for leader in range(0, 50, 10):
        t = found.arrival(300.0)[leader]
        place = found.along(np.arange(60), np.full(60, t))[0]
        assert np.diff(place) == pytest.approx(np.full(59, -5.5), abs=1e-5)


@pytest.mark.parametrize("below_mm", [0.0, 30.0, 100.0, 300.0])
def test_column_intervals_spacings_and_gaps_below_the_lip(below_mm: float) -> None:
    """interval(y) = interval(lip) (1 - a/g (1 - v_lip / v(y))); spacing = v interval.

    First order in the interval, so it is asked of the later parts of the column only. From
    energy: v(y)² = v_lip² + 2 g y. The gap is interval - length / v.
    """
    length, a = 5.0, 2350.0
    found = integrate(Column(count=60, pitch_mm=5.5, acceleration_mm_s2=a))
    late = slice(20, 60)
    v_lip = found.lip_speed_mm_s
    # The speed half way between two neighbours stands for both.
    lip = np.hypot(v_lip[1:], v_lip[:-1]) / np.sqrt(2)
    down = np.sqrt(lip**2 + 2 * G * below_mm)
    interval = np.diff(found.lip_s) * (1 - a / G * (1 - lip / down))
    middle = found.arrival(below_mm)
    assert np.diff(middle)[late] == pytest.approx(interval[late], rel=0.01)

    # Both are as far from the place, one beyond it and one before.
    halfway = (middle[1:] + middle[:-1]) / 2
    each = np.arange(60)
    spacing = found.along(each[:-1], halfway)[0] - found.along(each[1:], halfway)[0]
    assert spacing[late] == pytest.approx((down * interval)[late], rel=0.01)

    heads = found.arrival(below_mm - length / 2)
    tails = found.arrival(below_mm + length / 2)
    gap = (heads[1:] - tails[:-1])[late]
    assert np.all(np.abs(gap - (interval - length / down)[late]) < 0.01 * interval[late])
    # However low the gate, the gap stays below interval(lip) (1 - a/g).
    assert np.all(gap <= (np.diff(found.lip_s) * (1 - a / G))[late] + 1e-4)


def test_drag_has_a_closed_form() -> None:
    """v = v_t tanh(g t / v_t), y = v_t²/g ln cosh(g t / v_t), v_t² = g / k: from memory."""
    found = integrate(until_mm=3000.0, motion=FreeFall(drag_per_m=0.5))
    terminal = np.sqrt(G / 0.5e-3)
    t = np.linspace(0.0, 0.8, 333)
    place, speed = found.along(0, t)
    assert speed == pytest.approx(terminal * np.tanh(G * t / terminal), abs=1e-5)
    assert place == pytest.approx(terminal**2 / G * np.log(np.cosh(G * t / terminal)), abs=1e-8)
    assert speed[-1] > 0.9 * terminal


def test_bounce_has_closed_times() -> None:
    """Up at e sqrt(2gh): back at the place after 2 e sqrt(2h/g), at its highest e² h above it."""
    h, e = 200.0, 0.6
    found = integrate(bounce=Bounce(below_lip_mm=h, parts=(0,), restitution=e))
    down = np.sqrt(2 * h / G)
    assert found.arrivals(h).t_s == pytest.approx([down, down * (1 + 2 * e)], abs=1e-9)
    apex = down * (1 + e)
    place, speed = found.along(0, np.array([apex]))
    assert (place[0], speed[0]) == pytest.approx((h - e**2 * h, 0.0), abs=1e-6)
    below = found.arrivals(350.0).t_s
    assert below == pytest.approx([apex + np.sqrt(2 * (350.0 - h + e**2 * h) / G)], abs=1e-9)


def test_what_was_held_falls_from_rest() -> None:
    """sqrt(2h/g) and sqrt(2gh), whether it stuck or lay on the gate."""
    stuck = integrate(stuck=(Stuck(part=0, below_lip_mm=100.0, for_ms=300.0),))
    free_s = np.sqrt(2 * 100.0 / G) + 0.3
    gate = Gate(
        below_lip_mm=100.0,
        open_takes_ms=0.0,
        cycles=(Cycle(open_ms=-100.0, shut_ms=0.0), Cycle(open_ms=500.0, shut_ms=2000.0)),
    )
    held = integrate(gate=gate)
    # A ball of 4 mm lies on a blade 1 mm thick: its middle is 2.5 mm above the blade's.
    for found, start_s, from_mm in [(stuck, free_s, 100.0), (held, 0.5, 97.5)]:
        for h in (50.0, 100.0, 200.0):
            t = found.arrival(from_mm + h)
            assert t[0] - start_s == pytest.approx(np.sqrt(2 * h / G), abs=1e-9)
            assert found.along(0, t)[1][0] == pytest.approx(np.sqrt(2 * G * h), rel=1e-9)
