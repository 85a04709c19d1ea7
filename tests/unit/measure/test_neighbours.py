"""Neighbours of a pour at a height."""

from dataclasses import replace

import numpy as np
import pytest
from pours import LIP, G, column, pour

from viscount.measure.neighbours import neighbours

ROW_MM = {
    8.8e-3: (11.944, 17.049, 20.966),
    4.4e-3: (6.067, 8.620, 10.578),
    20e-3: (26.048, 37.650, 46.553),
}


@pytest.mark.parametrize("apart_s", ROW_MM)
@pytest.mark.parametrize("number", range(3))
def test_two_parts_from_rest(apart_s: float, number: int) -> None:
    """How far two parts released one after the other are apart (calculated: g t dt - g dt²/2).

    That is when the leader is at the height; midway between both crossings the follower has come
    up by g dt²/2: the spacing is g t dt there, and the interval stays.
    """
    leader = (100.0, 200.0, 300.0)[number]
    at_line = np.sqrt(2 * G * 10.0)
    near = neighbours(pour(np.array([0.0, apart_s]), [at_line, at_line]).poured, leader - 10.0)
    assert near.interval_s == pytest.approx([apart_s], rel=1e-9)
    earlier = G * apart_s**2 / 2
    assert near.spacing[0] - earlier == pytest.approx(ROW_MM[apart_s][number], abs=6e-4)


def test_spacing_is_the_distance_midway_between_the_crossings() -> None:
    near = neighbours(pour(np.array([0.0, 0.02]), [1400.0, 1700.0]).poured, 50.0)
    (first, second), (t0, t1) = near.speed, near.t_s
    half = (t1 - t0) / 2
    ahead = 50.0 + first * half + G * half**2 / 2
    behind = 50.0 - second * half + G * half**2 / 2
    assert near.spacing == pytest.approx([ahead - behind])


def test_a_gap_is_the_interval_less_what_the_lengths_take() -> None:
    near = neighbours(pour(np.array([0.0, 0.008]), [1500.0, 1500.0], acceleration=0.0).poured)
    assert near.gap_s == pytest.approx([0.008 - 4.0 / 1500.0])


def test_unknown_lengths_leave_the_gap_unknown_and_nothing_else() -> None:
    unknown = np.full(2, np.nan)
    near = neighbours(pour(np.array([0.0, 0.01]), [1500.0, 1500.0], ahead=unknown).poured)
    assert np.isnan(near.gap_s).all()
    assert np.isfinite(near.interval_s).all()
    assert np.isfinite(near.spacing).all()


@pytest.mark.parametrize("below", [-60.0, 0.0, 40.0, 300.0])
def test_uncertainties_are_what_many_draws_scatter_by(below: float) -> None:
    """Against the scatter of the same pour with all its inputs drawn anew (JCGM 101)."""
    true = pour(
        np.array([0.0, 0.009]),
        [1500.0, 1650.0],
        sigma_s=np.full(2, 2e-5),
        sigma_speed=np.array([8.0, 6.0]),
        sigma_acceleration=150.0,
        sigma_speed_share=0.006,
    ).poured
    sigma_height = 0.8
    rng = np.random.default_rng(3)
    found = []
    for _ in range(4000):
        share = 1.0 + true.sigma_speed_share * rng.standard_normal()
        own = true.speed + true.sigma_speed * rng.standard_normal(2)
        drawn = replace(
            true,
            t_s=true.t_s + true.sigma_s * rng.standard_normal(2),
            speed=share * own,
            acceleration=true.acceleration + true.sigma_acceleration * rng.standard_normal(),
            ahead=true.ahead + true.sigma_end * rng.standard_normal(2),
            behind=true.behind + true.sigma_end * rng.standard_normal(2),
        )
        near = neighbours(drawn, below + sigma_height * rng.standard_normal())
        found.append((near.interval_s[0], near.spacing[0], near.gap_s[0], near.speed[1]))
    stated = neighbours(true, below, sigma_height=sigma_height)
    claimed = (
        stated.sigma_interval_s[0],
        stated.sigma_spacing[0],
        stated.sigma_gap_s[0],
        stated.sigma_speed[1],
    )
    assert claimed == pytest.approx(tuple(np.std(found, axis=0)), rel=0.08)


def test_a_part_that_never_was_that_high_is_vague_and_finite() -> None:
    near = neighbours(column(5).poured, LIP.below_line - 400.0)
    assert np.isfinite(near.sigma_interval_s).all()
    assert np.isfinite(near.sigma_spacing).all()
    assert (near.sigma_interval_s > 1.0).all()
