"""The budget of an uncertainty, beside the examples of JCGM 100:2008 (figures from memory, the
results of its equations checked by other programs)."""

import math

import numpy as np
import pytest
from scipy import stats

from viscount.measure.scale.budget import (
    Budget,
    Input,
    coverage_factor,
    mean_of,
    rectangular,
    resolution,
    triangular,
)
from viscount.measure.scale.line_fit import fit_curve


def budget(*inputs: tuple[float, float]) -> Budget:
    made = [Input(name=str(k), u=u, freedom=nu) for k, (u, nu) in enumerate(inputs)]
    return Budget(inputs=tuple(made))


def test_end_gauge():
    # JCGM 100:2008 H.1: contributions in nm, their degrees of freedom 18, 25.6, 50 and 2.
    found = budget((25.0, 18), (9.7, 25.6), (2.9, 50), (16.6, 2))
    assert found.u == pytest.approx(32, abs=0.5)
    assert found.freedom == pytest.approx(16.7, abs=0.2)
    factor = coverage_factor(found.freedom, 0.99)
    assert factor == pytest.approx(2.92, abs=0.005)
    assert factor * found.u == pytest.approx(93, abs=1.0)
    assert found.dominant is not None
    assert found.dominant.u == 25.0


def test_comparator():
    # JCGM 100:2008 H.1.3.2: 5.8, 3.9 and 6.7 nm come to 9.7 nm.
    assert budget((5.8, 24), (3.9, 5), (6.7, 8)).u == pytest.approx(9.6819, abs=5e-4)


def test_temperatures():
    # JCGM 100:2008 4.4.3, table 1.
    text = (
        "96.90 98.18 98.25 98.61 99.03 99.49 99.56 99.74 99.89 100.07 "
        "100.33 100.42 100.68 100.95 101.11 101.20 101.57 101.84 102.36 102.72"
    )
    celsius = [float(word) for word in text.split()]
    mean, scatter = mean_of(celsius)
    assert mean == pytest.approx(100.145, abs=5e-4)
    assert scatter.u == pytest.approx(0.333, abs=5e-4)
    assert scatter.freedom == 19


def test_six_measured_accelerations():
    # Six values of g in a student's report on a photogate: mean 9.719 m/s².
    mean, scatter = mean_of([9.684, 9.684, 9.696, 9.709, 9.725, 9.816])
    assert mean == pytest.approx(9.719, abs=5e-4)
    assert scatter.u == pytest.approx(0.0204320, abs=1e-6)
    assert Budget(inputs=(scatter,)).expanded == pytest.approx(0.0525221, abs=1e-6)


def test_thermometer_line():
    # JCGM 100:2008 H.3: corrections of a thermometer against its reading less 20 degrees.
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    line = fit_curve(np.array(t) - 20.0, np.array(b))
    y1, y2 = line.coefficients
    u1, u2 = np.sqrt(np.diag(line.covariance))
    assert (y1, y2) == pytest.approx((-0.1712, 0.00218), abs=5e-5)
    assert (u1, u2) == pytest.approx((0.0029, 0.00067), abs=5e-5)
    assert line.covariance[0, 1] / (u1 * u2) == pytest.approx(-0.930, abs=5e-4)
    assert line.scatter == pytest.approx(0.0035, abs=5e-5)
    assert line.at(10.0) == pytest.approx((-0.1494, 0.0041), abs=5e-5)
    assert line.slope_at(3.0) == pytest.approx((y2, u2))


def test_bounds():
    # JCGM 100:2008 4.3.7 and 4.3.9; a frame of 90 a second, and the difference of two.
    assert rectangular(1.0) == pytest.approx(0.57735)
    assert triangular(1.0) == pytest.approx(0.408248, abs=1e-6)
    assert 1e3 * resolution(1 / 90) == pytest.approx(3.208, abs=1e-3)
    assert 1e3 * math.sqrt(2) * resolution(1 / 90) == pytest.approx(4.536, abs=1e-3)


def test_speed_from_distance_and_time():
    # 20.0 ± 0.1 mm over 14.2 ms ± 50 us: first-order propagation.
    v = 20.0 / 14.2
    found = budget((0.1 / 14.2, math.inf), (v * 0.05 / 14.2, math.inf))
    # The time's uncertainty is already one standard deviation here: 0.1 mm and 50 us as such.
    assert found.u == pytest.approx(v * math.hypot(0.1 / 20.0, 0.05 / 14.2))
    rectangles = budget(
        (rectangular(0.1) / 14.2, math.inf), (v * rectangular(0.05) / 14.2, math.inf)
    )
    assert rectangles.u < found.u


def test_an_exact_result_has_no_interval():
    assert budget().u == 0.0
    assert budget().expanded == 0.0
    assert budget().dominant is None
    assert math.isinf(budget((1.0, math.inf)).freedom)


@pytest.mark.parametrize("freedom", [1, 2, 5, 16, 100])
def test_coverage_factor_is_students(freedom: int):
    assert coverage_factor(freedom) == pytest.approx(stats.t.ppf(0.975, freedom))
    # Cut to a whole number, never up.
    assert coverage_factor(freedom + 0.9) == pytest.approx(stats.t.ppf(0.975, freedom))


def test_one_observation_has_no_scatter():
    with pytest.raises(ValueError, match="fewer than two"):
        mean_of([1.0])


def test_a_scaled_budget_keeps_its_freedom():
    one = budget((3.0, 4), (4.0, 9))
    assert one.scaled(-2.0).u == pytest.approx(10.0)
    assert one.scaled(-2.0).freedom == pytest.approx(one.freedom)


def test_too_few_points_for_a_curve():
    with pytest.raises(ValueError, match="3 points for 3 coefficients"):
        fit_curve(np.arange(3.0), np.arange(3.0), 2)
