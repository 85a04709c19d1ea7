"""Pours judged part by part: equal totals are not enough."""

import pytest
from packing_rig import Falling, Rig, attention, linked, one_bag, order, packed

from viscount.packing.paired import Paired
from viscount.packing.record import Result


def test_errors_of_both_counters_that_cancel_make_no_good_bag() -> None:
    """The beam misses its third part, the camera another one: six and six of seven."""
    rig = Rig()
    rig.falling = Falling(beam_misses_at=2, camera_misses_at=4)
    attention(one_bag(rig), Result.UNSURE)
    record = rig.records[-1]
    assert (record.beam, record.camera, rig.truth.in_bag) == (6, 6, 7)
    assert "1 part that the camera saw and the beam missed" in record.reasons
    assert "1 part that the beam saw and the camera missed" in record.reasons
    assert record.paired == Paired(agreed=5, camera_only=1, beam_only=1)


def test_a_pour_one_part_off_shows_beside_the_good_ones_before_it() -> None:
    """At equal intervals the first part of the beam and the last of the camera may be missed, and
    all the others still keep time."""
    rig = Rig()
    rig.falling = Falling(every_ms=(80.0, 80.0))
    assert one_bag(rig).records[-1].result is Result.GOOD
    rig.truth.in_bag = 0
    rig.falling = Falling(every_ms=(80.0, 80.0), beam_misses_at=0, camera_misses_at=6)
    attention(one_bag(rig), Result.UNSURE, "that the camera saw and the beam missed")
    assert (rig.records[-1].beam, rig.records[-1].camera, rig.truth.in_bag) == (6, 6, 7)


def test_two_parts_in_one_pulse_are_named() -> None:
    rig = Rig()
    rig.falling = Falling(pair_at=2)
    attention(one_bag(rig), Result.UNSURE, "1 merged pulse of several parts")
    record = rig.records[-1]
    assert (record.beam, record.camera, rig.truth.in_bag) == (6, 7, 7)
    assert record.paired is not None
    assert (record.paired.agreed, record.paired.merged_pulses) == (5, 1)


@pytest.mark.parametrize("parts", [1, 2, 3])
def test_bags_of_few_parts_at_equal_intervals_are_good(parts: int) -> None:
    rig = Rig(order(each=parts, bags=4))
    rig.falling = Falling(every_ms=(80.0, 80.0))
    records = packed(linked(rig))
    assert [r.result for r in records] == [Result.GOOD] * 4, records
    assert all(r.paired is not None and r.paired.agreed == parts for r in records)


def test_what_is_said_of_a_pairing() -> None:
    assert Paired(agreed=6).reasons == ()
    told = Paired(agreed=1, merged_pulses=1, split_pulses=2, beam_only=3, doubts=("it rains",))
    assert told.reasons == (
        "1 merged pulse of several parts",
        "2 parts that made several pulses",
        "3 parts that the beam saw and the camera missed",
        "it rains",
    )
    with pytest.raises(TypeError, match="no whole number"):
        Paired.of(told.as_dict() | {"agreed": True})
    with pytest.raises(KeyError):
        Paired.of({"agreed": 1})
