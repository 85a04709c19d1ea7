"""What passages are off by themselves."""

from dataclasses import replace

import numpy as np
import pytest
from tallies import passage

from viscount.measure.own_sigma import (
    MOST_DEPTH,
    PLACE_FLOOR_PX,
    USUAL_DEPTH,
    off_middle_s,
    own_sigma,
)
from viscount.outlet import Part
from viscount.values import Passage

DT = 1 / 120


def one(**changes: object) -> Passage:
    plain = passage(1, 0.5, sigma_ns=100_000).passage
    return replace(plain, **{"first_frame": 57, "last_frame": 63, **changes})


def same(passage: Passage) -> list[Passage]:
    """So many that are equally fast: nothing says that they differ in depth."""
    return [passage] * 9


def test_a_speed_is_known_as_a_line_through_its_places_is() -> None:
    """Against the covariance of a straight line by least squares, written out."""
    sigma_px, n = 1.5, 40
    t = np.arange(n) * DT
    design = np.stack([np.ones(n), t - t.mean()], axis=1)
    covariance = sigma_px**2 * np.linalg.inv(design.T @ design)
    seen = one(sigma_ns=round(1e9 * np.sqrt(covariance[0, 0]) / 6000.0))
    seen = replace(seen, first_frame=0, last_frame=n - 1)
    share = own_sigma(same(seen), DT).speed_share[0]
    assert share == pytest.approx(np.sqrt(covariance[1, 1]) / 6000.0, rel=0.2)


def test_a_longer_look_and_a_finer_crossing_tell_more() -> None:
    def share(interval_s: float | None = DT, **changes: object) -> float:
        return float(own_sigma(same(one(**changes)), interval_s).speed_share[0])

    assert share(last_frame=70) < share() < share(sigma_ns=200_000)
    assert share(None) == share(last_frame=57) == 0.05


def test_the_pixel_grid_is_the_least_of_all() -> None:
    fine = own_sigma(same(one(sigma_ns=0)), DT)
    assert fine.t_s == pytest.approx(np.full(9, PLACE_FLOOR_PX / 6000.0))


def test_parts_that_turn_wobble_unless_they_are_alike_all_round() -> None:
    found = [
        own_sigma([one()], DT, length_spread_px=10.0, part=None if s is None else Part(shape=s))
        for s in ("washer", "screw", None)
    ]
    washer, screw, unknown = (float(f.t_s[0]) for f in found)
    assert washer < screw == unknown
    assert found[0].speed_share[0] < found[1].speed_share[0]


def test_speeds_that_scatter_tell_of_depth_and_a_trend_does_not() -> None:
    rng = np.random.default_rng(1)
    trend = [one(sigma_ns=100, speed_px_s=6000.0 + 20.0 * k) for k in range(40)]
    deep = [one(sigma_ns=100, speed_px_s=6000.0 * (1 + 0.003 * z)) for z in rng.normal(size=40)]
    wild = [one(sigma_ns=100, speed_px_s=6000.0 * (1 + 0.1 * z)) for z in rng.normal(size=40)]
    shares = [float(own_sigma(p, DT).speed_share[0]) for p in (trend, deep, wild)]
    assert shares[0] < 5e-4
    assert shares[1] == pytest.approx(0.003, rel=0.3)
    assert shares[2] == pytest.approx(MOST_DEPTH, rel=0.02)
    assert own_sigma([one(sigma_ns=100)], DT).speed_share[0] > USUAL_DEPTH
    far, near = (own_sigma(deep, DT, off_axis_px=off).t_s[0] for off in (100.0, 0.0))
    assert far > 4 * near


def test_where_in_their_following_parts_cross_the_line() -> None:
    # Frames 57 to 63 have their middle at 0.5 s.
    assert off_middle_s([one()], DT) == pytest.approx(0.0, abs=1e-12)
    assert off_middle_s([one(t_ns=510_000_000)], DT) == pytest.approx(0.01)
    assert off_middle_s([one(t_ns=900_000_000)], DT) == pytest.approx(3 * DT)
    assert off_middle_s([], DT) == off_middle_s([one()], None) == 0.0


def test_what_speeds_are_off_by_anyhow_is_no_depth() -> None:
    rng = np.random.default_rng(2)
    share = float(own_sigma(same(one()), DT).speed_share[0])
    noisy = [one(speed_px_s=6000.0 * (1 + share * z)) for z in rng.normal(size=200)]
    assert own_sigma(noisy, DT).speed_share[0] < 1.2 * share
