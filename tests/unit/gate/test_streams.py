"""Drawn pours scatter as the law of propagation says."""

from dataclasses import replace

import numpy as np
import pytest
from poured_by_hand import poured

from viscount.gate.places import Places
from viscount.gate.streams import Streams, drawn, exactly
from viscount.stream import Poured, at_height

PLACES = Places(beam=-20.0, blade=60.0)
PLAIN = poured([0.0, 0.02, 0.05], [1400.0, 1500.0, 1450.0])
ONES = np.ones(3)


def draws(pour: Poured, places: Places = PLACES) -> Streams:
    (found,) = drawn([pour], places, groups=64, each=64, seed=3)
    return found


def test_without_errors_it_is_the_pour_as_measured() -> None:
    found = exactly(PLAIN, PLACES)
    stream = at_height(PLAIN, PLACES.blade)
    assert found.head_s[0] == pytest.approx(stream.head_s)
    assert found.tail_s[0] == pytest.approx(stream.tail_s)
    assert found.at_beam_s[0] == pytest.approx(at_height(PLAIN, PLACES.beam).head_s)
    assert found.line_s[0] == pytest.approx(PLAIN.t_s)


@pytest.mark.parametrize(
    "errors",
    [
        {"sigma_s": 2e-4 * ONES},
        {"sigma_speed": 10.0 * ONES},
        {"sigma_end": 0.2},
        {"sigma_end_rate": 5.0},
        {"sigma_acceleration": 100.0},
        {"sigma_speed_share": 0.01},
    ],
)
def test_times_scatter_as_they_are_carried(errors: dict) -> None:
    """Against `viscount.stream`, which propagates the same errors by their derivatives."""
    pour = replace(PLAIN, **errors)
    found = draws(pour)
    stream = at_height(pour, PLACES.blade)
    sigma = np.sqrt(stream.own_s**2 + sum(c**2 for c in stream.common_s.values()))
    # The tail is lower than the centre, and takes a little longer: a few parts in a hundred.
    assert found.tail_s.std(axis=0) == pytest.approx(sigma, rel=0.15)
    assert found.head_s.std(axis=0) == pytest.approx(sigma, rel=0.15)


@pytest.mark.parametrize(("name", "times"), [("beam", "at_beam_s"), ("blade", "head_s")])
def test_heights_are_off_for_all_parts_together(name: str, times: str) -> None:
    found = draws(PLAIN, replace(PLACES, **{f"sigma_{name}": 1.0}))
    stream = at_height(PLAIN, getattr(PLACES, name), sigma_height=1.0)
    own = getattr(found, times)
    assert own.std(axis=0) == pytest.approx(stream.common_s["height"], rel=0.05)
    assert np.corrcoef(own.T).min() > 0.999
    other = found.head_s if name == "beam" else found.at_beam_s
    assert other.std(axis=0) == pytest.approx(0.0, abs=1e-12)


def test_what_is_off_in_common_is_so_in_all_pours_of_a_group_alike() -> None:
    pour = replace(PLAIN, sigma_acceleration=100.0, sigma_s=1e-6 * ONES)
    one, other = drawn([pour, pour], PLACES, groups=8, each=4, seed=3)
    for stream in (one, other):
        groups = stream.head_s[:, 0].reshape(8, 4)
        assert groups.std(axis=1).max() < 0.1 * groups.mean(axis=1).std()
    assert one.head_s[:, 0] == pytest.approx(other.head_s[:, 0], abs=1e-5)


def test_an_error_of_time_is_the_same_at_beam_and_blade() -> None:
    found = draws(replace(PLAIN, sigma_s=5e-4 * ONES))
    fallen = found.head_s - found.at_beam_s
    assert fallen.std(axis=0) == pytest.approx(0.0, abs=1e-12)
