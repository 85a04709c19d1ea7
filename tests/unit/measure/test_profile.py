"""The profile of a pour: the law of the column."""

import numpy as np
import pytest
from pours import LIP, Pour, column, steady, without

from viscount.measure.heights import Height
from viscount.measure.pour_spacing import At, PourSpacing, pour_spacing

LINE = At(name="line", height=Height(below_line=0.0, sigma=0.0, unit="mm"))
K = np.sqrt(2 * 5.5 / 2350.0)


def measured(one: Pour, *, lip: Height | None = LIP, pitch: float | None = 5.5) -> PourSpacing:
    return pour_spacing(one, [LINE], run=0, lip=lip, pitch_mm=pitch)


def test_sixty_in_530_ms() -> None:
    """The trade's figure (common practice, no source), and what follows from it (calculated).

    First interval 28.342 ms, the thirtieth 6.299, the last 4.435, half the mean of 8.833; with a
    pitch of 5.5 mm an effective acceleration of 2.350 m/s².
    """
    acceleration = 2 * 60 * 5.5 / 0.530**2
    found = measured(column(60, acceleration=acceleration, jitter_s=2e-5))
    fitted = found.profile
    assert fitted.k_s * np.sqrt(60) == pytest.approx(0.530, rel=1e-3)
    assert 1e3 * fitted.interval_s(1) == pytest.approx(28.342, rel=1e-3)
    assert 1e3 * fitted.interval_s(29) == pytest.approx(6.299, rel=1.1e-3)
    assert 1e3 * fitted.interval_s(59) == pytest.approx(4.435, rel=1e-3)
    assert 1e3 * fitted.interval_s(59) == pytest.approx(0.530e3 / 60 / 2, rel=6e-3)
    assert found.acceleration.mm_s2 == pytest.approx(2350.0, rel=2e-3)
    assert found.acceleration.by == "part file"
    assert found.acceleration_of_each[10:] == pytest.approx(np.full(50, 2350.0), rel=0.01)


@pytest.mark.parametrize(
    ("pitch", "acceleration"), [(3.0, 1282.0), (5.5, 2350.0), (10.0, 4272.0), (23.0, 9826.0)]
)
def test_effective_accelerations_of_sixty_in_530_ms(pitch: float, acceleration: float) -> None:
    """By pitch: head height, head diameter, and longer ones (calculated: 2 n p / T²)."""
    found = measured(column(60, pitch=pitch, acceleration=acceleration), pitch=pitch)
    assert found.acceleration.mm_s2 == pytest.approx(2 * 60 * pitch / 0.530**2, rel=1.5e-3)


def test_free_fall_empties_a_column_in_259_ms() -> None:
    """60 x 5.5 mm under gravity: 259.4 ms, the first intervals 13.873 and 10.645 ms (calculated).

    A column that falls freely never opens: the spacing stays the pitch.
    """
    found = measured(column(60, acceleration=9806.65))
    assert found.profile.k_s * np.sqrt(60) == pytest.approx(0.2594, rel=1e-3)
    intervals = [1e3 * found.profile.interval_s(n) for n in (1, 2, 3, 4, 59)]
    assert intervals == pytest.approx([13.873, 10.645, 8.974, 7.906, 2.171], rel=1e-3)
    assert found.heights[0].neighbours.spacing == pytest.approx(np.full(59, 5.5), rel=1e-6)


def test_times_and_speeds_together_give_the_pitch() -> None:
    found = measured(column(60, jitter_s=2e-5), pitch=None)
    assert found.acceleration.by == "speeds"
    assert found.acceleration.pitch_mm == pytest.approx(5.5, rel=5e-3)
    assert found.acceleration.mm_s2 == pytest.approx(2350.0, rel=5e-3)


def test_speeds_give_the_lip_where_nobody_stated_it() -> None:
    found = measured(column(60, jitter_s=2e-5, start_s=3.0), lip=None)
    assert (found.profile.place, found.profile.lip_by) == ("lip", "speeds")
    assert found.profile.lip_below_line == pytest.approx(-105.0, rel=5e-3)
    assert found.profile.start_s == pytest.approx(3.0, abs=2e-3)
    assert found.profile.k_s == pytest.approx(K, rel=5e-3)


def test_an_empty_place_and_a_wild_time_do_not_bend_it() -> None:
    holed = without(column(60, jitter_s=2e-5), 20)
    assert measured(holed).profile.k_s == pytest.approx(K, rel=2e-3)
    wild = column(60, jitter_s=2e-5)
    wild.poured.t_s[40] += 0.002
    assert measured(wild).profile.k_s == pytest.approx(K, rel=2e-3)


@pytest.mark.parametrize("jitter_ms", [0.1, 0.2])
def test_the_uncertainty_of_k_is_what_many_columns_scatter_by(jitter_ms: float) -> None:
    inside, count = 0, 80
    for seed in range(count):
        fitted = measured(
            column(40, jitter_s=1e-3 * jitter_ms, seed=seed, sigma_acceleration=0.0)
        ).profile
        inside += abs(fitted.k_s - K) <= 1.96 * fitted.sigma_k_s
    assert 0.90 * count <= inside < count


def test_what_is_off_for_all_is_in_the_uncertainty() -> None:
    plain = measured(column(60)).profile.sigma_k_s
    lip = Height(below_line=LIP.below_line, sigma=1.0, unit="mm")
    assert measured(column(60), lip=lip).profile.sigma_k_s > 2 * plain
    assert measured(column(60, sigma_acceleration=300.0)).profile.sigma_k_s > 2 * plain


def test_the_law_carried_to_the_line_is_what_was_measured_there() -> None:
    found = measured(column(60))
    law = found.profile.intervals_at(0.0, 60)
    assert law == pytest.approx(found.heights[0].neighbours.interval_s, rel=1e-3)


def test_a_regular_stream_and_a_short_one_have_no_profile() -> None:
    assert measured(steady()).profile is None
    assert measured(column(5)).profile is None
    assert measured(steady()).acceleration is None
    assert np.isnan(measured(steady()).acceleration_of_each).all()
