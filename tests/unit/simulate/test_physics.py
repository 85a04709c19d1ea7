"""The integrated paths against closed forms and figures from outside."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from viscount.errors import UsageError
from viscount.simulate.part import Ball
from viscount.simulate.physics import Paths, paths
from viscount.simulate.scene import (
    Belt,
    Column,
    Escapement,
    FreeFall,
    Lanes,
    Poisson,
    Release,
    Scene,
    Slide,
    Times,
    Turning,
)

G = 9806.65
BALL = Ball(diameter_mm=4.0)


def scene(release: Release, **more: object) -> Scene:
    return Scene(parts=(BALL,), release=release, lead_in_s=0.0, **more)


def integrate(release: Release, until_mm: float = 400.0, **more: object) -> Paths:
    return paths(scene(release, **more), until_mm)


def test_fall_from_rest() -> None:
    """Heights, times and speeds: sqrt(2h/g), sqrt(2gh), calculated with standard gravity."""
    found = integrate(Times(times_ms=(0.0,)), until_mm=1100.0)
    for height_mm, t_ms, speed_m_s in [
        (50, 100.981, 0.9903),
        (100, 142.809, 1.4005),
        (200, 201.962, 1.9806),
        (300, 247.352, 2.4257),
        (500, 319.330, 3.1316),
        (1000, 451.601, 4.4287),
    ]:
        t = found.arrival(float(height_mm))
        assert t[0] * 1e3 == pytest.approx(t_ms, abs=6e-4)
        assert found.along(0, t)[1][0] / 1e3 == pytest.approx(speed_m_s, abs=6e-5)


def test_fall_entering_with_speed() -> None:
    """Picket fence of 5 cm entered at 0.5 m/s: t = (-v0 + sqrt(v0² + 2gx)) / g, calculated."""
    found = integrate(Times(times_ms=(0.0,)), lip_speed_mm_s=500.0)
    expected = [62.137, 100.652, 131.198, 157.313, 180.499, 201.566, 221.006, 239.147]
    times = [found.arrival(50.0 * bar)[0] * 1e3 for bar in range(1, 9)]
    assert times == pytest.approx(expected, abs=6e-4)


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
    column = Column(count=60, pitch_mm=5.5, acceleration_mm_s2=a)
    lip_ms = integrate(column, until_mm=10.0).lip_s * 1e3
    gaps = np.diff(lip_ms)
    assert lip_ms[-1] == pytest.approx(530.0, abs=1e-3)
    assert lip_ms[0] == pytest.approx(68.423, abs=1e-3)
    assert gaps[0] == pytest.approx(28.342, abs=1e-3)
    assert gaps[28] == pytest.approx(6.299, abs=1e-3)
    assert gaps[-1] == pytest.approx(4.435, abs=1e-3)


def test_column_in_free_fall() -> None:
    """60 x 5.5 mm at standard gravity: 259.4 ms, calculated."""
    lip_ms = integrate(Column(count=60, pitch_mm=5.5, acceleration_mm_s2=G), until_mm=10.0).lip_s
    gaps = np.diff(lip_ms) * 1e3
    assert lip_ms[-1] * 1e3 == pytest.approx(259.4, abs=0.05)
    assert gaps[:4] == pytest.approx([13.873, 10.645, 8.974, 7.906], abs=6e-4)
    assert gaps[-1] == pytest.approx(2.171, abs=6e-4)


@pytest.mark.parametrize("below_mm", [20.0, 60.0, 150.0])
def test_column_intervals_and_gaps_below_the_lip(below_mm: float) -> None:
    """interval(y) = interval(lip) (1 - a/g (1 - v_lip / v(y))); gap = interval - length / v.

    First order in the interval, so it is asked of the later parts of the column only. From
    energy: v(y)² = v_lip² + 2 g y.
    """
    length, a = 5.0, 2350.0
    column = Column(count=60, pitch_mm=5.5, acceleration_mm_s2=a)
    found = integrate(column)
    late = slice(20, 60)
    middle = found.arrival(below_mm)
    v_lip = found.lip_speed_mm_s
    # The speed half way between two neighbours stands for both.
    lip = np.hypot(v_lip[1:], v_lip[:-1]) / np.sqrt(2)
    down = np.sqrt(lip**2 + 2 * G * below_mm)
    expected = np.diff(found.lip_s) * (1 - a / G * (1 - lip / down))
    assert np.diff(middle)[late] == pytest.approx(expected[late], rel=0.01)

    heads = found.arrival(below_mm - length / 2)
    tails = found.arrival(below_mm + length / 2)
    gap = heads[1:] - tails[:-1]
    assert gap[late] == pytest.approx((expected - length / down)[late], abs=0.01 * 8e-3)
    assert np.all(gap <= np.diff(found.lip_s) * (1 - a / G) + 1e-4)


def test_belt_keeps_interval_and_spacing() -> None:
    found = integrate(Escapement(count=5, interval_ms=8.0), motion=Belt(speed_mm_s=1500.0))
    for below_mm in (0.0, 40.0, 300.0):
        assert np.diff(found.arrival(below_mm)) * 1e3 == pytest.approx([8.0] * 4, abs=1e-6)
    place = found.along(np.arange(5), np.full(5, 0.1))[0]
    assert np.diff(place) == pytest.approx([-12.0] * 4, abs=1e-6)


def test_slide_accelerates_by_incline_and_friction() -> None:
    """v² = 2 g (sin 30° - 0.2 cos 30°) s, from rest."""
    found = integrate(Times(times_ms=(0.0,)), motion=Slide(incline_deg=30.0, friction=0.2))
    t = found.arrival(100.0)
    expected = np.sqrt(2 * G * (0.5 - 0.2 * np.sqrt(3) / 2) * 100.0)
    assert found.along(0, t)[1][0] == pytest.approx(expected, rel=1e-6)


def test_slide_that_holds_parts_is_refused() -> None:
    with pytest.raises(UsageError, match="stops or takes over"):
        integrate(
            Times(times_ms=(0.0,)),
            motion=Slide(incline_deg=5.0, friction=0.5),
            lip_speed_mm_s=100.0,
        )


def test_drag_agrees_with_another_integrator() -> None:
    """scipy.integrate.solve_ivp, and 4 % of gravity at 2 m/s for 0.098 /m."""
    fall = FreeFall(drag_per_m=0.098)
    assert fall.drag_per_m * 1e-3 * 2000**2 / G == pytest.approx(0.04, rel=0.01)
    found = integrate(Times(times_ms=(0.0,)), until_mm=900.0, motion=fall, lip_speed_mm_s=300.0)
    times = np.linspace(0.0, 0.35, 50)
    peer = solve_ivp(
        lambda t, y: [y[1], G - 0.098e-3 * y[1] ** 2],
        (0.0, 0.36),
        [0.0, 300.0],
        t_eval=times,
        rtol=1e-10,
        atol=1e-9,
    )
    place, speed = found.along(0, times)
    assert place == pytest.approx(peer.y[0], abs=1e-5)
    assert speed == pytest.approx(peer.y[1], abs=1e-3)
    assert np.all(speed[1:] < 300.0 + G * times[1:])


def test_part_comes_with_the_feed() -> None:
    """Above the lip a column's part is where its acceleration puts it: at rest n pitches up."""
    found = integrate(Column(count=4, pitch_mm=16.0, acceleration_mm_s2=2500.0))
    each = np.arange(4)
    assert found.along(each, np.zeros(4))[0] == pytest.approx([-16, -32, -48, -64], abs=1e-3)
    assert found.arrival(-16.0)[1:] == pytest.approx(found.lip_s[:-1], abs=1e-6)


def test_poisson_release_keeps_its_least_interval() -> None:
    release = Poisson(count=4000, mean_interval_ms=20.0, least_interval_ms=5.0)
    intervals = np.diff(integrate(release, until_mm=10.0).lip_s) * 1e3
    assert intervals.min() >= 5.0
    assert intervals.mean() == pytest.approx(20.0, rel=0.05)
    # An exponential's standard deviation is its mean.
    assert intervals.std() == pytest.approx(15.0, rel=0.08)


def test_spreads_have_their_stated_size() -> None:
    found = integrate(
        Escapement(count=4000, interval_ms=30.0, jitter_ms=1.5),
        until_mm=10.0,
        lip_speed_mm_s=500.0,
        lip_speed_spread_percent=2.0,
        lanes=Lanes(positions_mm=(-5.0, 5.0), spread_mm=0.5, drift_spread_mm_s=20.0),
        turning=Turning(angle_deg=90.0, angle_spread_deg=3.0, spin_deg_s=100.0),
    )
    assert (found.lip_s * 1e3 - 30.0 * np.arange(4000)).std() == pytest.approx(1.5, rel=0.05)
    assert found.lip_speed_mm_s.std() == pytest.approx(10.0, rel=0.05)
    assert (found.across_mm - np.resize([-5.0, 5.0], 4000)).std() == pytest.approx(0.5, rel=0.05)
    assert found.drift_mm_s.std() == pytest.approx(20.0, rel=0.05)
    assert np.degrees(found.angle_rad).mean() == pytest.approx(90.0, abs=0.3)
    turned = found.angle(0, found.lip_s[:1] + 0.5) - found.angle_rad[0]
    assert np.degrees(turned[0]) == pytest.approx(50.0)


def test_nothing_to_let_go() -> None:
    assert integrate(Column(count=0, pitch_mm=1.0, acceleration_mm_s2=1.0)).arrival(5.0).size == 0
