"""When parts are let go, alone, in groups, and in several pours."""

import numpy as np
import pytest

from viscount.simulate.physics import Paths, paths
from viscount.simulate.scene import (
    Ball,
    Clumps,
    Column,
    Escapement,
    Lanes,
    Poisson,
    Release,
    Scene,
    Times,
)


def let_go(release: Release, **more: object) -> Paths:
    scene = Scene(parts=(Ball(diameter_mm=4.0),), release=release, **({"lead_in_s": 0.0} | more))
    return paths(scene, 10.0)


def test_poisson_release_keeps_its_least_interval() -> None:
    release = Poisson(count=4000, mean_interval_ms=20.0, least_interval_ms=5.0)
    intervals = np.diff(let_go(release).lip_s) * 1e3
    assert intervals.min() >= 5.0
    assert intervals.mean() == pytest.approx(20.0, rel=0.05)
    # An exponential's standard deviation is its mean.
    assert intervals.std() == pytest.approx(15.0, rel=0.08)


def test_pairs_side_by_side() -> None:
    found = let_go(Clumps(groups=3, interval_ms=50.0, beside_mm=6.0), lead_in_s=0.5)
    assert found.lip_s * 1e3 == pytest.approx([500, 500, 550, 550, 600, 600])
    assert found.across_mm == pytest.approx([-3, 3, -3, 3, -3, 3])


def test_groups_one_behind_the_other_with_sizes_in_turn() -> None:
    found = let_go(Clumps(groups=4, sizes=(1, 3), interval_ms=50.0, within_ms=4.0))
    assert found.lip_s * 1e3 == pytest.approx([0, 50, 54, 58, 100, 150, 154, 158])
    assert found.across_mm == pytest.approx(np.zeros(8))


def test_a_group_strays_as_one() -> None:
    found = let_go(Clumps(groups=2000, interval_ms=50.0, within_ms=4.0, jitter_ms=2.0))
    first, second = found.lip_s[::2] * 1e3, found.lip_s[1::2] * 1e3
    assert second - first == pytest.approx(np.full(2000, 4.0))
    assert (first - 50.0 * np.arange(2000)).std() == pytest.approx(2.0, rel=0.08)


def test_groups_lie_about_their_lanes() -> None:
    found = let_go(
        Clumps(groups=2, sizes=(3,), interval_ms=50.0, beside_mm=2.0),
        lanes=Lanes(positions_mm=(10.0,)),
    )
    assert found.across_mm == pytest.approx([8, 10, 12] * 2)


def test_no_groups() -> None:
    assert let_go(Clumps(groups=0, interval_ms=50.0)).count == 0


def test_every_pour_lets_all_go_again() -> None:
    found = let_go(Times(times_ms=(0.0, 7.0)), pours_ms=(0.0, 1000.0, 2500.0), lead_in_s=0.25)
    assert found.lip_s * 1e3 == pytest.approx([250, 257, 1250, 1257, 2750, 2757])


def test_what_is_random_is_drawn_anew_for_each_pour() -> None:
    release = Escapement(count=5, interval_ms=20.0, jitter_ms=1.0)
    once = let_go(release).lip_s
    both = let_go(release, pours_ms=(0.0, 1000.0)).lip_s
    assert np.array_equal(both[:5], once)
    assert np.abs(both[5:] - 1.0 - once).max() > 1e-4


def test_a_column_speeds_up_in_every_pour() -> None:
    release = Column(count=3, pitch_mm=5.0, acceleration_mm_s2=2500.0)
    found = let_go(release, pours_ms=(0.0, 1000.0))
    assert found.lip_speed_mm_s == pytest.approx(
        np.tile(np.sqrt(2 * 2500 * 5 * np.arange(1, 4)), 2)
    )
    assert found.lip_s[3:] - found.lip_s[:3] == pytest.approx(np.ones(3))
