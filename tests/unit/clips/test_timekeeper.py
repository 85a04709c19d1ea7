"""From stamps to times: exact, rising, and honest about what was estimated."""

from fractions import Fraction
from itertools import pairwise

import pytest

from viscount.clips.timekeeper import Timekeeper

MS = 1_000_000


def keep(stamps: list[int | None], tick_ns: Fraction, interval_ns: int) -> list[tuple[int, bool]]:
    keeper = Timekeeper(tick_ns, interval_ns)
    return [keeper.time(stamp) for stamp in stamps]


def test_times_are_exact_after_a_day() -> None:
    # 30000/1001 Hz; a day holds 2,589,408 whole intervals of 1001/30000 s.
    last = 2_589_408
    (_, _), (t_ns, estimated) = keep([7, 7 + last * 1001], Fraction(10**9, 30_000), 33 * MS)
    assert t_ns == round(Fraction(last * 1001 * 10**9, 30_000)) == 86_399_913_600_000
    assert not estimated


def test_a_missing_stamp_is_estimated_and_said() -> None:
    assert keep([0, None, 66], Fraction(MS), 33 * MS) == [
        (0, False),
        (33 * MS, True),
        (66 * MS, False),
    ]


def test_no_stamps_at_all() -> None:
    assert keep([None] * 3, Fraction(MS), 40 * MS) == [(n * 40 * MS, True) for n in range(3)]


def test_stamps_that_begin_late_go_on_from_the_estimate() -> None:
    assert keep([None, 500, 533], Fraction(MS), 33 * MS) == [
        (0, True),
        (33 * MS, False),
        (66 * MS, False),
    ]


def test_one_repeated_stamp_moves_no_other_time() -> None:
    times = keep([0, 33, 33, 99, 132], Fraction(MS), 33 * MS)
    assert [t // MS for t, _ in times] == [0, 33, 66, 99, 132]
    assert [estimated for _, estimated in times] == [False, False, True, False, False]


def test_a_restarted_clock_goes_on() -> None:
    times = keep([0, 4000, 8000, 0, 4000], Fraction(MS), 4000 * MS)
    assert [t // MS for t, _ in times] == [0, 4000, 8000, 12000, 16000]
    assert [estimated for _, estimated in times] == [False, False, False, True, False]


@pytest.mark.parametrize("stamps", [[5, 4, 3, 2], [0, 0, 0, 0], [10**6, 0, None, 1]])
def test_times_always_rise(stamps: list[int | None]) -> None:
    times = [t for t, _ in keep(stamps, Fraction(MS), 33 * MS)]
    assert times[0] == 0
    assert all(later > earlier for earlier, later in pairwise(times))
