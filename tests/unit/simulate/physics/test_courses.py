"""Parts that stick or bounce on their way."""

import numpy as np
import pytest

from viscount.errors import UsageError
from viscount.simulate.physics import Paths, paths
from viscount.simulate.scene import (
    Belt,
    Bounce,
    Escapement,
    Lanes,
    Scene,
    Screw,
    Slide,
    Stuck,
    Turning,
)

G = 9806.65
SCREW = Screw(
    overall_length_mm=12.0, head_diameter_mm=7.0, head_height_mm=4.0, shank_diameter_mm=4.0
)


def integrate(until_mm: float = 300.0, **more: object) -> Paths:
    scene = Scene(
        parts=(SCREW,), release=Escapement(count=3, interval_ms=30.0), lead_in_s=0.1, **more
    )
    return paths(scene, until_mm)


def test_a_stuck_part_stays_and_falls_on_from_rest() -> None:
    found = integrate(stuck=(Stuck(part=1, below_lip_mm=80.0, for_ms=200.0),))
    there = found.arrival(80.0)[1]
    place, speed = found.along(1, there + np.array([1e-6, 0.1, 0.199, 0.25]))
    assert place[:3] == pytest.approx(80.0)
    assert speed[:3] == pytest.approx(0.0)
    assert place[3] == pytest.approx(80.0 + G * 0.05**2 / 2, abs=1e-6)
    assert speed[3] == pytest.approx(G * 0.05)
    # The others do not mind.
    free = integrate()
    assert found.arrival(250.0)[[0, 2]] == pytest.approx(free.arrival(250.0)[[0, 2]])
    assert found.arrival(250.0)[1] > free.arrival(250.0)[1] + 0.2


def test_a_part_sticks_more_than_once() -> None:
    stuck = tuple(Stuck(part=0, below_lip_mm=mm, for_ms=50.0) for mm in (120.0, 40.0))
    found = integrate(stuck=stuck)
    assert found.arrival(40.0)[0] - 0.1 == pytest.approx(np.sqrt(2 * 40 / G))
    assert found.arrival(120.0)[0] - found.arrival(40.0)[0] == pytest.approx(
        0.05 + np.sqrt(2 * 80 / G)
    )
    assert found.arrival(200.0)[0] - found.arrival(120.0)[0] == pytest.approx(
        0.05 + np.sqrt(2 * 80 / G)
    )


def test_a_stuck_part_goes_on_with_the_belt() -> None:
    found = integrate(
        motion=Belt(speed_mm_s=800.0), stuck=(Stuck(part=0, below_lip_mm=40.0, for_ms=100.0),)
    )
    assert found.arrival(200.0)[0] == pytest.approx(0.1 + 200.0 / 800.0 + 0.1)


def test_what_has_stuck_neither_turns_nor_drifts() -> None:
    found = integrate(
        lanes=Lanes(drift_spread_mm_s=50.0),
        turning=Turning(spin_deg_s=900.0, tumble_deg_s=400.0),
        stuck=(Stuck(part=1, below_lip_mm=80.0, for_ms=50.0),),
    )
    there = found.arrival(80.0)[1]
    later = there + np.array([0.0, 0.03, 0.1])
    assert found.across(1, later) == pytest.approx(float(found.across(1, later)[0]))
    assert found.rotation(1, later) == pytest.approx(np.tile(found.rotation(1, there), (3, 1, 1)))
    assert np.ptp(found.angle(1, later)) == 0
    assert np.ptp(found.angle(0, later)) > 1
    assert np.abs(found.rotation(1, there) - found.rotation(1, there - 0.01)).max() > 0.01


def test_a_bounce_turns_round_once() -> None:
    found = integrate(bounce=Bounce(below_lip_mm=150.0, parts=(0, 2), restitution=0.6))
    passings = found.arrivals(120.0)
    assert [list(passings.downwards[passings.part == k]) for k in range(3)] == [
        [True, False, True],
        [True],
        [True, False, True],
    ]
    assert np.all(np.diff(passings.t_s) >= 0)
    own = passings.t_s[passings.part == 0]
    assert found.along(0, own)[0] == pytest.approx(120.0)
    assert np.sign(found.along(0, own)[1]) == pytest.approx([1, -1, 1])
    # It does not bounce again where it comes down.
    assert [t.size for t in (found.arrivals(150.0).part, found.arrivals(200.0).part)] == [5, 3]


def test_what_bounces_turns_and_drifts_on() -> None:
    found = integrate(
        lanes=Lanes(drift_spread_mm_s=50.0),
        turning=Turning(spin_deg_s=300.0),
        bounce=Bounce(below_lip_mm=100.0, parts=(0,)),
    )
    t = found.arrival(200.0)[:1]
    assert found.angle(0, t) == pytest.approx(np.radians(300.0) * (t - 0.1))
    assert found.across(0, t) == pytest.approx(found.drift_mm_s[0] * (t - 0.1))


def test_no_restitution_means_a_fall_from_rest() -> None:
    found = integrate(bounce=Bounce(below_lip_mm=100.0, parts=(0,), restitution=0.0))
    assert found.arrival(200.0)[0] == pytest.approx(0.1 + 2 * np.sqrt(200 / G))


def test_friction_slows_what_slides_back_up() -> None:
    """It rises v² / 2 a with a = g (sin + friction cos), and comes down with g (sin - ...)."""
    slide = Slide(incline_deg=40.0, friction=0.3)
    found = integrate(motion=slide, bounce=Bounce(below_lip_mm=100.0, parts=(0,), restitution=0.8))
    sin, cos = np.sin(np.radians(40.0)), np.cos(np.radians(40.0))
    down, up = G * (sin - 0.3 * cos), G * (sin + 0.3 * cos)
    back = 0.8 * np.sqrt(2 * down * 100.0)
    rise = back**2 / (2 * up)
    again = found.arrivals(100.0)
    again_s = again.t_s[again.part == 0]
    assert again_s[1] - again_s[0] == pytest.approx(back / up + np.sqrt(2 * rise / down))
    t = np.linspace(again_s[0], again_s[1], 20001)
    assert found.along(0, t)[0].min() == pytest.approx(100.0 - rise, abs=1e-5)


def test_stuck_then_bounced() -> None:
    found = integrate(
        stuck=(Stuck(part=0, below_lip_mm=50.0, for_ms=100.0),),
        bounce=Bounce(below_lip_mm=100.0, parts=(0,), restitution=1.0),
    )
    # It springs back to where it started from rest, past the place that held it before.
    t = found.arrivals(100.0).t_s
    fall = np.sqrt(2 * 50 / G)
    mine = found.arrivals(100.0).part == 0
    assert np.diff(t[mine]) == pytest.approx(2 * fall)


def test_places_join_wherever_a_leg_ends() -> None:
    found = integrate(
        stuck=(Stuck(part=1, below_lip_mm=60.0, for_ms=40.0),),
        bounce=Bounce(below_lip_mm=110.0, parts=(0, 1)),
    )
    t = np.arange(0.05, 0.8, 1e-5)
    for k in range(3):
        place, speed = found.along(k, t)
        assert np.abs(np.diff(place)).max() <= np.abs(speed).max() * 1.01e-5
    mixed = np.array([0, 1, 2, 1])
    at = np.array([0.28, 0.3, 0.3, 0.29])
    together = found.along(mixed, at)
    single = [found.along(int(k), at[i : i + 1]) for i, k in enumerate(mixed)]
    assert together[0] == pytest.approx([place[0] for place, _ in single])
    assert together[1] == pytest.approx([speed[0] for _, speed in single])


def test_a_bounce_on_a_belt_is_refused() -> None:
    with pytest.raises(UsageError, match="never falls again"):
        integrate(motion=Belt(speed_mm_s=500.0), bounce=Bounce(below_lip_mm=50.0, parts=(0,)))
