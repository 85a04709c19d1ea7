"""What a feeder does wrong, told from intervals."""

import numpy as np
import pytest
from pours import LIP, Pour, column, fallen, pour, steady, without

from viscount.measure.feeder_faults import Fault, FeederFault
from viscount.measure.heights import Height
from viscount.measure.pour_spacing import At, PourSpacing, pour_spacing

LINE = At(name="line", height=Height(below_line=0.0, sigma=0.0, unit="mm"))


def measured(one: Pour) -> PourSpacing:
    return pour_spacing(one, [LINE], run=0, lip=LIP, pitch_mm=None)


def faults(one: Pour) -> list[FeederFault]:
    return list(measured(one).faults)


def late(one: Pour, index: int, by_s: float) -> Pour:
    """Every part from this one on is later."""
    t_s = one.poured.t_s.copy()
    t_s[index:] += by_s
    return pour(t_s, one.poured.speed)


@pytest.mark.parametrize("made", [column(60, jitter_s=5e-5), steady()])
def test_a_good_pour_has_no_fault(made: Pour) -> None:
    assert faults(made) == []


def test_needless_faults_are_rare() -> None:
    """Of 60 good columns with jitter, 60 parts each: fewer than one fault in a thousand parts."""
    told = sum(len(faults(column(60, jitter_s=2e-4, seed=k))) for k in range(60))
    assert told < 4


@pytest.mark.parametrize(("made", "gone"), [(column(60), 20), (steady(), 12), (column(60), 50)])
def test_a_missing_part_is_told_where_it_is_missing(made: Pour, gone: int) -> None:
    (found,) = faults(without(made, gone))
    assert found.kind is Fault.MISSING
    assert found.part == gone + 1
    assert found.chance > 0.9
    assert found.t_s == made.poured.t_s[gone + 1]
    assert found.interval_s / found.expected_s == pytest.approx(2.0, rel=0.1)


def test_two_parts_at_once_are_told() -> None:
    times = 0.03 * np.arange(20)
    times = np.sort(np.append(times, times[9] + 0.002))
    (found,) = faults(fallen(times, np.full(21, 400.0)))
    assert (found.kind, found.part) == (Fault.DOUBLE, 11)


def test_a_passage_of_several_parts_is_a_double_as_sure_as_its_count() -> None:
    parts = np.ones(20, dtype=np.int64)
    parts[5] = 2
    doubt = np.full(20, 1e-3)
    doubt[5] = 0.9
    (found,) = faults(steady(20, parts=parts, doubt=doubt))
    assert (found.kind, found.part, found.parts) == (Fault.DOUBLE, 6, 2)
    assert found.chance == 0.9
    assert found.interval_s is None
    assert "not seen apart" in found.text


def test_a_part_that_comes_too_soon_and_the_one_after_it() -> None:
    made = steady(20, jitter_s=0.0)
    t_s = made.poured.t_s.copy()
    t_s[8] -= 0.012
    found = faults(pour(t_s, made.poured.speed))
    assert (found[0].kind, found[0].part) == (Fault.EARLY, 9)


def test_a_jam_is_told_and_the_profile_goes_on_behind_it() -> None:
    made = late(column(60, jitter_s=2e-5), 30, 0.4)
    found = measured(made)
    (jam,) = found.faults
    assert (jam.kind, jam.part) == (Fault.JAM, 31)
    assert "stops and goes on" in jam.text
    assert found.profile.k_s == pytest.approx(np.sqrt(2 * 5.5 / 2350.0), rel=0.01)


def test_a_slow_down_is_told_with_its_length() -> None:
    intervals = np.full(40, 0.03)
    intervals[20:26] = 0.05
    times = np.append(0.0, np.cumsum(intervals))
    times += 1e-4 * np.random.default_rng(5).standard_normal(41)
    (found,) = faults(fallen(times, np.full(41, 400.0)))
    assert (found.kind, found.part, found.parts) == (Fault.SLOW, 22, 6)
    assert found.chance > 0.99
    assert "6 intervals on end" in found.text


def test_nothing_is_told_of_a_random_stream() -> None:
    rng = np.random.default_rng(6)
    times = np.cumsum(rng.exponential(0.03, 60))
    assert faults(fallen(times, np.full(60, 400.0))) == []
