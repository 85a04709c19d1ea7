"""How parts fall, slide and ride, and where they are when asked."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from viscount.errors import UsageError
from viscount.simulate.physics import Paths, paths
from viscount.simulate.scene import (
    Ball,
    Belt,
    Column,
    Escapement,
    FreeFall,
    Lanes,
    Release,
    Scene,
    Slide,
    Times,
    Turning,
)

G = 9806.65
BALL = Ball(diameter_mm=4.0)
ONE = Times(times_ms=(0.0,))


def integrate(release: Release = ONE, until_mm: float = 400.0, **more: object) -> Paths:
    return paths(Scene(parts=(BALL,), release=release, lead_in_s=0.0, **more), until_mm)


def test_belt_keeps_interval_and_spacing() -> None:
    found = integrate(Escapement(count=5, interval_ms=8.0), motion=Belt(speed_mm_s=1500.0))
    for below_mm in (0.0, 40.0, 300.0):
        assert np.diff(found.arrival(below_mm)) * 1e3 == pytest.approx([8.0] * 4, abs=1e-6)
    place = found.along(np.arange(5), np.full(5, 0.1))[0]
    assert np.diff(place) == pytest.approx([-12.0] * 4, abs=1e-6)


def test_slide_accelerates_by_incline_and_friction() -> None:
    """v² = 2 g (sin 30° - 0.2 cos 30°) s, from rest."""
    found = integrate(motion=Slide(incline_deg=30.0, friction=0.2))
    t = found.arrival(100.0)
    expected = np.sqrt(2 * G * (0.5 - 0.2 * np.sqrt(3) / 2) * 100.0)
    assert found.along(0, t)[1][0] == pytest.approx(expected, rel=1e-6)


def test_slide_that_holds_parts_is_refused() -> None:
    with pytest.raises(UsageError, match="stops or takes over"):
        integrate(motion=Slide(incline_deg=5.0, friction=0.5), lip_speed_mm_s=100.0)


def test_drag_agrees_with_another_integrator() -> None:
    """scipy.integrate.solve_ivp, and 4 % of gravity at 2 m/s for 0.098 /m."""
    fall = FreeFall(drag_per_m=0.098)
    assert fall.drag_per_m * 1e-3 * 2000**2 / G == pytest.approx(0.04, rel=0.01)
    found = integrate(until_mm=900.0, motion=fall, lip_speed_mm_s=300.0)
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
    arrivals = found.arrivals(-16.0)
    assert list(arrivals.part) == [0, 1, 2, 3]
    assert arrivals.t_s == pytest.approx(found.arrival(-16.0))


def test_many_parts_are_asked_at_once_as_one_by_one() -> None:
    found = integrate(Escapement(count=4, interval_ms=20.0), lip_speed_mm_s=200.0)
    each, t = np.arange(4), np.array([-0.1, 0.03, 0.3, 5.0])
    together = found.along(each, t)
    single = [found.along(k, t[k : k + 1]) for k in range(4)]
    assert together[0] == pytest.approx([place[0] for place, _ in single])
    assert together[1] == pytest.approx([speed[0] for _, speed in single])


def test_a_time_that_never_comes_gives_no_place() -> None:
    found = integrate(motion=Slide(incline_deg=30.0))
    never = found.arrival(1e6)
    assert np.isnan(never).all()
    assert np.isnan(found.along(np.arange(1), never)[0]).all()
    assert np.isnan(found.rotation(np.arange(1), never)).any()


def test_spreads_have_their_stated_size() -> None:
    found = integrate(
        Escapement(count=4000, interval_ms=30.0, jitter_ms=1.5),
        until_mm=10.0,
        lip_speed_mm_s=500.0,
        lip_speed_spread_percent=2.0,
        lanes=Lanes(
            positions_mm=(-5.0, 5.0), spread_mm=0.5, drift_spread_mm_s=20.0, depth_spread_mm=3.0
        ),
        turning=Turning(angle_deg=90.0, angle_spread_deg=3.0, spin_deg_s=100.0),
    )
    assert (found.lip_s * 1e3 - 30.0 * np.arange(4000)).std() == pytest.approx(1.5, rel=0.05)
    assert found.lip_speed_mm_s.std() == pytest.approx(10.0, rel=0.05)
    assert (found.across_mm - np.resize([-5.0, 5.0], 4000)).std() == pytest.approx(0.5, rel=0.05)
    assert found.drift_mm_s.std() == pytest.approx(20.0, rel=0.05)
    assert found.depth_mm.std() == pytest.approx(3.0, rel=0.05)
    assert np.array_equal(found.depth(np.arange(4000), found.lip_s), found.depth_mm)
    assert np.degrees(found.angle_rad).mean() == pytest.approx(90.0, abs=0.3)
    turned = found.angle(0, found.lip_s[:1] + 0.5) - found.angle_rad[0]
    assert np.degrees(turned[0]) == pytest.approx(50.0)


def test_depth_is_drawn_apart_from_all_else() -> None:
    """A key of its own changes nothing else that is random."""
    lanes = {"spread_mm": 1.0, "drift_spread_mm_s": 5.0}
    flat = integrate(Escapement(count=9, interval_ms=9.0, jitter_ms=1.0), lanes=Lanes(**lanes))
    deep = integrate(
        Escapement(count=9, interval_ms=9.0, jitter_ms=1.0),
        lanes=Lanes(**lanes, depth_spread_mm=4.0),
    )
    assert np.array_equal(flat.lip_s, deep.lip_s)
    assert np.array_equal(flat.across_mm, deep.across_mm)
    assert np.array_equal(flat.drift_mm_s, deep.drift_mm_s)


def test_nothing_to_let_go() -> None:
    assert integrate(Column(count=0, pitch_mm=1.0, acceleration_mm_s2=1.0)).arrival(5.0).size == 0
