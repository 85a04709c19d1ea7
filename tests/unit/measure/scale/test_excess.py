"""What clusters scatter beyond what they consist of is a covariance, whatever the estimate is."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from viscount.measure.scale.paths import _at_least_none

squares = arrays(np.float64, (3, 3), elements=st.floats(-10.0, 10.0, allow_subnormal=False))


@given(square=squares)
def test_no_variance_is_negative(square):
    symmetrical = square + square.T
    kept = _at_least_none(symmetrical, np.eye(3))
    assert np.linalg.eigvalsh(kept).min() > -1e-9


@given(square=squares)
def test_a_covariance_stays_as_it_is(square):
    covariance = square @ square.T + 1e-3 * np.eye(3)
    np.testing.assert_allclose(
        _at_least_none(covariance, np.eye(3)), covariance, rtol=1e-6, atol=1e-9
    )


@given(square=squares, share=st.floats(1e-6, 1e6))
def test_the_units_of_its_quantities_do_not_matter(square, share):
    units = np.array([1.0, share, 1.0])
    symmetrical = square @ square.T - 5.0 * np.eye(3)
    outer = np.outer(units, units)
    scaled = _at_least_none(symmetrical * outer, np.eye(3) * outer) / outer
    np.testing.assert_allclose(scaled, _at_least_none(symmetrical, np.eye(3)), rtol=1e-6, atol=1e-6)
