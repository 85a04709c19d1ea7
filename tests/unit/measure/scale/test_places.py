"""Fields along the fall that draw all parts aside alike."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from viscount.measure.scale.places import KNOT_PX, MOST_KNOTS, field_square, knots_over


@given(
    places=st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=30).map(np.array),
)
def test_each_place_has_one_displacement_of_up_to_two_knots(places):
    knots = knots_over(places)
    shares = knots.shares(places)
    assert knots.count <= MOST_KNOTS
    assert knots.step >= KNOT_PX
    np.testing.assert_allclose(shares.sum(axis=1), 1.0, atol=1e-9)
    assert np.count_nonzero(shares > 0, axis=1).max() <= 2


@pytest.mark.parametrize("field", [0.0, 0.02, 0.05])
def test_a_field_is_found_beside_the_noise(field: float):
    """Sixty sightings of each of 24 places, of a scatter of 0.05 px in all."""
    rng = np.random.default_rng(5)
    noise = math.sqrt(0.05**2 - field**2) if field else 0.05
    noise = max(noise, 0.02)
    found = []
    for _ in range(40):
        drawn = field * rng.normal(size=24)
        means = drawn + noise / math.sqrt(60.0) * rng.normal(size=24)
        inner = np.diag(np.full(24, 60.0 / noise**2))
        found.append(field_square(inner, inner @ means, 0.05))
    # With none it is no more than the noise of the means may hide.
    hidden = noise / math.sqrt(60.0)
    assert math.sqrt(float(np.mean(found))) == pytest.approx(field, rel=0.12, abs=hidden)


def test_where_nothing_tells_it_may_be_the_whole_scatter():
    inner = np.zeros((4, 4))
    assert field_square(inner, np.zeros(4), 0.03) == pytest.approx(0.03**2, rel=0.01)
