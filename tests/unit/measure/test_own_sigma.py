"""What passages are off by themselves."""

from dataclasses import replace

import numpy as np
import pytest
from tallies import passage

from viscount.measure.own_sigma import off_middle_s, own_sigma
from viscount.outlet import Part
from viscount.values import Passage

DT = 1 / 120


def one(**changes: object) -> Passage:
    return replace(
        passage(1, 0.5, sigma_ns=100_000, first_frame=57).passage, last_frame=63, **changes
    )


def test_a_speed_is_known_as_a_line_through_its_places_is() -> None:
    """Against the covariance of a straight line by least squares, written out."""
    sigma_px, n = 0.5, 40
    t = np.arange(n) * DT
    design = np.stack([np.ones(n), t - t.mean()], axis=1)
    covariance = sigma_px**2 * np.linalg.inv(design.T @ design)
    seen = one(sigma_ns=round(1e9 * np.sqrt(covariance[0, 0]) / 6000.0))
    seen = replace(seen, first_frame=0, last_frame=n - 1)
    share = own_sigma([seen], DT).speed_share[0]
    assert share == pytest.approx(np.sqrt(covariance[1, 1]) / 6000.0, rel=0.08)


def test_a_longer_look_and_a_finer_crossing_tell_more() -> None:
    plain = own_sigma([one()], DT)
    assert own_sigma([replace(one(), last_frame=70)], DT).speed_share < plain.speed_share
    assert own_sigma([one(sigma_ns=200_000)], DT).speed_share > plain.speed_share
    assert own_sigma([one()], None).speed_share == 0.05
    assert own_sigma([replace(one(), last_frame=57)], DT).speed_share == 0.05


def test_the_pixel_grid_is_the_least_of_all() -> None:
    fine = own_sigma([one(sigma_ns=0)], DT)
    assert fine.t_s == pytest.approx([0.02 / 6000.0])


def test_parts_that_turn_wobble_unless_they_are_alike_all_round() -> None:
    found = [
        own_sigma([one()], DT, length_spread_px=10.0, part=None if s is None else Part(shape=s))
        for s in ("washer", "screw", None)
    ]
    washer, screw, unknown = (float(f.t_s[0]) for f in found)
    assert washer < screw == unknown
    assert found[0].speed_share[0] < found[1].speed_share[0]


def test_where_in_their_following_parts_cross_the_line() -> None:
    # Frames 57 to 63 have their middle at 0.5 s.
    assert off_middle_s([one()], DT) == pytest.approx(0.0, abs=1e-12)
    assert off_middle_s([one(t_ns=510_000_000)], DT) == pytest.approx(0.01)
    assert off_middle_s([one(t_ns=900_000_000)], DT) == pytest.approx(3 * DT)
    assert off_middle_s([], DT) == off_middle_s([one()], None) == 0.0
