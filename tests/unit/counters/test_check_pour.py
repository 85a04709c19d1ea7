"""A count by hand, and a bare total."""

import pytest
from tallies import invalid, paired, tally

from viscount.codes import Code
from viscount.counters.check_pour import with_hand_count
from viscount.counters.total import with_total
from viscount.tally import CameraTally
from viscount.values import Status


def test_each_counter_stands_beside_the_hand_count():
    check = with_hand_count(paired(), 5).check
    assert [(one.name, one.counted, one.off) for one in check.counters] == [
        ("camera", 4, -1),
        ("beam", 4, -1),
        ("both", 5, 0),
    ]
    # Clopper and Pearson's limits for 1 in 5 and for 0 in 5, as tables have them.
    assert check.counters[0].rate_low == pytest.approx(0.00505, abs=1e-4)
    assert check.counters[0].rate_high == pytest.approx(0.7164, abs=1e-4)
    assert check.counters[2].rate_high == pytest.approx(0.5218, abs=1e-4)


def test_a_wrong_bag_begins_the_row_anew():
    # 1 - 0.001 to the power of 2995 falls below 5 %.
    assert with_hand_count(tally(), 3).check.bags_needed == 2994
    assert with_hand_count(tally(), 4).check.bags_needed == 2995


def test_a_counter_without_a_count_has_no_error():
    (camera,) = with_hand_count(invalid(camera=_no_camera()), 3).check.counters
    assert (camera.counted, camera.off, camera.rate) == (None, None, None)


def test_no_parts_at_all_and_far_too_many():
    (none,) = with_hand_count(tally(()), 0).check.counters
    assert (none.off, none.rate) == (0, None)
    (many,) = with_hand_count(tally(), 1).check.counters
    assert (many.off, many.rate) == (2, 1.0)


def test_an_equal_total_leaves_the_camera_as_it_is():
    found = with_total(tally(), 3)
    assert (found.count, found.status, found.beam.parts) == (3, Status.CLEAN, 3)
    assert found.agreement is None


def test_another_total_is_a_doubt_with_both_in_its_range():
    found = with_total(tally(), 5)
    assert (found.count, found.count_low, found.count_high) == (3, 3, 5)
    assert [reason.code for reason in found.reasons] == [Code.BEAM_TOTAL_DIFFERS]


def test_a_total_stands_in_for_a_camera_that_cannot_count():
    found = with_total(invalid(camera=_no_camera()), 7)
    assert (found.count, found.status) == (7, Status.DOUBTFUL)


def _no_camera() -> CameraTally:
    return CameraTally(count=3, against=0, status=Status.INVALID, reasons=())
